"""Output at rated speed: rated V = V · n_rated / n, and how sure it is.

Open-circuit output of a permanent-magnet alternator is proportional to speed
(IEC 60034-4-1 and IEEE 115 correct open-circuit voltage to rated speed so). It
holds unloaded only: rows whose volts do not follow the speed are not scaled.

Rows within 10 % of rated speed are used where there are enough of them,
because there an offset or a sag can do least; otherwise the nearest ones. Of
very many rows used some stand for all (:func:`daq.align.parts.spread`): what
the scatter adds to the uncertainty is a thousandth of the meter's limits then.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.align.parts import parts, spread
from daq.align.scatter import correlation_time, robust_sd
from daq.rated.budget import Contribution, UncertaintyBudget, combine
from daq.rated.departure import departure_lines, row_departure, unexplained_line, unseen_half_width
from daq.rated.drift import Drift
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.proportion import Proportion, examine_proportion
from daq.rated.together import means_of

__all__ = [
    "NEAR",
    "CountedRows",
    "RatedOutput",
    "drifting",
    "limits_where_used",
    "rated_output",
    "row_uncertainty",
    "widened",
    "with_others",
]

Floats = NDArray[np.float64]

NEAR = 0.10
"""Share of rated speed within which a row is near it."""
_LEAST_ROWS = 8

_SCATTER = "scatter of the readings"
_STEADY_SHARE = 0.01
"""Share of rated speed in a second up to which the speed is steady, as the marks of the rows have it."""
_GAINED = 2.0
"""Times by which a scatter must be smaller than another before the difference is told."""
_DIGITS_MOVED = 3.0
"""Digits of the tach by which its readings must scatter before that is told."""


@dataclass(frozen=True)
class CountedRows:
    """The rows that count; arrays of shape (n,), no NaN."""

    time_s: Floats
    voltage_v: Floats
    speed_rpm: Floats
    slope_rpm_s: Floats


@dataclass(frozen=True)
class RatedOutput:
    """Output at rated speed and what it rests on."""

    rated_speed_rpm: float
    rated_voltage_v: float
    budget: UncertaintyBudget
    rows_used: int
    near: bool
    """Some speed lay within ``NEAR`` of rated speed."""
    nearest_share: float
    """How far the nearest speed was from rated speed, as a share of it."""
    span_s: float
    """Time from the first row used to the last."""
    scatter_v: float
    proportion: Proportion
    scaled: bool
    """False where the volts do not follow the speed: then no rated output can be stated."""
    unseen_v: float = 0.0
    """Half width of what an offset or a bend that the run can't show may do to the output."""
    reach: float = NEAR
    """How far from rated speed the rows used go, as a share of it."""
    weightless: NDArray[np.bool_] = field(
        default_factory=lambda: np.zeros(0, dtype=np.bool_), compare=False, repr=False
    )
    """Rows given that are near enough and lie too far from the others to weigh anything, shape (n,)."""
    drift: Drift | None = None
    """How it moved slowly with time, where it did; that is in the budget then."""


def rated_output(
    rows: CountedRows,
    rated_rpm: float,
    lag: LagEstimate,
    meter: InstrumentLimits,
    tach: InstrumentLimits,
    *,
    shift_limit_v: float = 0.0,
    averaging_limit_v: float = 0.0,
) -> RatedOutput | None:
    """State the output at rated speed; None where fewer than eight rows count.

    Args:
        rows: the rows that count.
        rated_rpm: the rated test speed.
        lag: as estimated.
        meter: its limits of error.
        tach: its limits of error.
        shift_limit_v: half width by which the output may differ under other shifts that fit about as well.
        averaging_limit_v: the same under the other way in which the tach may average.
    """
    if len(rows.time_s) < _LEAST_ROWS:
        return None
    some = spread(len(rows.time_s))
    proportion = examine_proportion(
        rows.speed_rpm[some], rows.voltage_v[some], rows.slope_rpm_s[some], rated_rpm
    )
    used = _nearest(rows.speed_rpm, rated_rpm)
    of_them = _standing_for(used)
    v, n = rows.voltage_v[of_them], rows.speed_rpm[of_them]
    rated = v * rated_rpm / n
    value, scatter, effective, weighing = _robust_mean(rated)
    near_rpm, seen_rpm = _reached(rows.speed_rpm[used]), _reached(rows.speed_rpm)
    lag_sensitivity = float(np.mean(rated * rows.slope_rpm_s[of_them] / n))
    departures = departure_lines(proportion, n, seen_rpm, rated_rpm, value)
    contributions = [
        Contribution(
            _SCATTER,
            scatter / float(np.sqrt(effective)),
            degrees_of_freedom=max(effective - 1.0, 1.0),
        ),
        *_meter_lines(meter, v, n, rated_rpm, scatter),
        *_tach_lines(tach, n, value),
        _lag_line(lag, lag_sensitivity, value, rows.speed_rpm[some]),
        *departures,
        *unexplained_line(
            proportion, value, float(np.mean(np.abs(rows.slope_rpm_s[of_them]) > _STEADY_SHARE * rated_rpm))
        ),
    ]
    nearest_share = _nearest_share(rows.speed_rpm, rated_rpm)
    places = np.flatnonzero(used)
    output = RatedOutput(
        rated_speed_rpm=rated_rpm,
        rated_voltage_v=value,
        budget=replace(combine(contributions), notes=_moved_together(v, n, rated_rpm, tach)),
        rows_used=len(places),
        near=nearest_share <= NEAR,
        nearest_share=nearest_share,
        span_s=float(rows.time_s[places[-1]] - rows.time_s[places[0]]),
        scatter_v=scatter,
        proportion=proportion,
        scaled=_follows(proportion, value, meter),
        unseen_v=unseen_half_width(departures),
        reach=max(NEAR, *(abs(rpm / rated_rpm - 1.0) for rpm in near_rpm)),
        weightless=_weightless(rows, used, rated_rpm, weighing),
    )
    return with_others(output, shift_limit_v, averaging_limit_v)


def _lag_line(lag: LagEstimate, sensitivity: float, value: float, speed_rpm: Floats) -> Contribution:
    """The lag's part; whatever the lag, no row can belong to a speed that the engine did not run at."""
    u_s = lag.u_s
    swing_v = abs(value) * float(np.std(speed_rpm)) / float(np.mean(speed_rpm))
    if u_s * abs(sensitivity) > swing_v:
        u_s = swing_v / abs(sensitivity)
    return Contribution("lag between the streams", u_s, sensitivity=sensitivity, unit="s")


def with_others(
    output: RatedOutput,
    shift_limit_v: float,
    averaging_limit_v: float,
    *,
    window_limit_v: float = 0.0,
    shifts_alike: bool = False,
) -> RatedOutput:
    """The output with what others that fit about as well would make of it in its budget.

    Args:
        output: without them.
        shift_limit_v: half width under other shifts; 0 for none.
        averaging_limit_v: half width under the other way in which the tach may average; 0 for none.
        window_limit_v: half width under the longest window over which the meter may average; 0 for none.
        shifts_alike: nothing speaks for one shift before another, so that the furthest is as likely as any.
    """
    limits = (("how the tach averages", averaging_limit_v), ("how long the meter averages", window_limit_v))
    more = [Contribution.from_limits(name, limit_v) for name, limit_v in limits if limit_v > 0.0]
    if shift_limit_v > 0.0:
        # All candidates, each with its own interval, have to lie within what is stated then.
        whole_v = shift_limit_v + (output.budget.expanded_uncertainty if shifts_alike else 0.0)
        kind: Literal["arcsine", "rectangular"] = "arcsine" if shifts_alike else "rectangular"
        more = [Contribution.from_limits("which shift is right", whole_v, kind), *more]
    if not more:
        return output
    budget = combine([*output.budget.contributions, *more])
    return replace(output, budget=replace(budget, notes=output.budget.notes))


def widened(output: RatedOutput, name: str, half_width_v: float) -> RatedOutput:
    """The output with one more contribution: it stands now at one end of this width, now at the other."""
    budget = output.budget
    more = Contribution.from_limits(name, half_width_v, "arcsine")
    return replace(output, budget=replace(combine([*budget.contributions, more]), notes=budget.notes))


def drifting(output: RatedOutput, drift: Drift) -> RatedOutput:
    """The output with a slow move in its budget: the rows scatter around what moves, and not by the move."""
    independent = max(output.rows_used / drift.repeats, 2.0)
    scatter = drift.residual_v / float(np.sqrt(independent))
    steadier = [
        replace(c, standard_uncertainty=scatter, degrees_of_freedom=max(independent - 1.0, 1.0))
        if c.name == _SCATTER
        else c
        for c in output.budget.contributions
    ]
    still = replace(output, budget=replace(output.budget, contributions=tuple(steadier)), drift=drift)
    return widened(still, "output that does not hold still", drift.limit_v(output.rated_voltage_v))


def limits_where_used(limits: InstrumentLimits, rows: CountedRows, rated_rpm: float) -> InstrumentLimits:
    """The meter's limits with the last digit of the range in which the rows used were read."""
    if len(rows.time_s) < _LEAST_ROWS:
        return limits
    used = _standing_for(_nearest(rows.speed_rpm, rated_rpm))
    v = rows.voltage_v[used]
    return limits.at(v, float(np.median(v * rated_rpm / rows.speed_rpm[used])))


def row_uncertainty(
    rows: CountedRows,
    rated_rpm: float,
    lag: LagEstimate,
    meter: InstrumentLimits,
    tach: InstrumentLimits,
    scatter_v: float,
    proportion: Proportion | None = None,
) -> Floats:
    """Standard uncertainty of each row's rated volts, shape (n,)."""
    scale = rated_rpm / rows.speed_rpm
    rated = rows.voltage_v * scale
    limits = meter.limit(rows.voltage_v) * scale / np.sqrt(3.0)
    digit = meter.digit * scale / np.sqrt(12.0)
    turning = (
        (tach.limit(rows.speed_rpm) / np.sqrt(3.0) + tach.digit / np.sqrt(12.0)) * rated / rows.speed_rpm
    )
    late = lag.u_s * rated * rows.slope_rpm_s / rows.speed_rpm
    squares = np.square(limits) + np.square(digit) + np.square(turning) + np.square(late)
    if proportion is not None:
        squares += np.square(row_departure(proportion, rows.speed_rpm, rated_rpm, rated))
    return np.asarray(np.sqrt(squares + (scatter_v * scale) ** 2))


def _nearest(speed_rpm: Floats, rated_rpm: float) -> NDArray[np.bool_]:
    """Rows near rated speed, or the eight or the nearer third of all where there are too few."""
    near = np.empty(len(speed_rpm), dtype=np.bool_)
    for part in parts(len(near)):
        near[part] = np.abs(speed_rpm[part] / rated_rpm - 1.0) <= NEAR
    if int(near.sum()) >= _LEAST_ROWS:
        return near
    distance = np.abs(speed_rpm / rated_rpm - 1.0)
    count = max(_LEAST_ROWS, len(distance) // 3)
    reach = np.partition(distance, count - 1)[count - 1]
    return np.asarray(distance <= reach)


def _standing_for(used: NDArray[np.bool_]) -> NDArray[np.bool_] | NDArray[np.int64]:
    """The rows used, or where they are very many places of some that stand for them."""
    some = spread(int(np.count_nonzero(used)))
    return used if isinstance(some, slice) else np.flatnonzero(used)[some]


def _reached(speed_rpm: Floats) -> tuple[float, float]:
    return float(np.min(speed_rpm)), float(np.max(speed_rpm))


def _nearest_share(speed_rpm: Floats, rated_rpm: float) -> float:
    """How far the nearest speed is from rated speed, as a share of it."""
    nearest = (np.min(np.abs(speed_rpm[part] / rated_rpm - 1.0)) for part in parts(len(speed_rpm)))
    return float(min(nearest))


@dataclass(frozen=True)
class _Weighing:
    """Tukey's biweight around a middle."""

    centre: float
    sd: float
    """Nothing scatters where it is 0, and all weigh the same."""

    def weight(self, rated: Floats) -> Floats:
        """Of each row, 0 to 1."""
        if self.sd == 0.0:
            return np.ones_like(rated)
        share = np.square((rated - self.centre) / (6.0 * self.sd))
        return np.asarray(np.square(np.clip(1.0 - share, 0.0, None)))


def _robust_mean(rated: Floats) -> tuple[float, float, float, _Weighing]:
    """Biweight mean, standard deviation of one row, the number of independent rows, and how each was weighed."""
    weighing = _Weighing(float(np.median(rated)), robust_sd(rated))
    centre, weight = weighing.centre, np.ones_like(rated)
    for _ in range(8):
        if weighing.sd == 0.0:
            break
        weighing = replace(weighing, centre=centre)
        weight = weighing.weight(rated)
        centre = float(weight @ rated / weight.sum())
        if abs(centre - weighing.centre) <= 1e-9 * weighing.sd:
            break
    kept = weight > 0.0
    spread_v = float(np.std(rated[kept], ddof=1)) if int(kept.sum()) > 1 else 0.0
    effective = max(float(kept.sum()) / correlation_time(rated - centre), 2.0)
    return centre, spread_v, effective, weighing


def _weightless(
    rows: CountedRows, used: NDArray[np.bool_], rated_rpm: float, weighing: _Weighing
) -> NDArray[np.bool_]:
    """Rows used that lie too far from the others to weigh anything, shape (n,)."""
    weightless = np.zeros(len(used), dtype=np.bool_)
    for part in parts(len(used)) if weighing.sd > 0.0 else ():
        here = used[part]
        rated = rows.voltage_v[part][here] * rated_rpm / rows.speed_rpm[part][here]
        weightless[part][here] = weighing.weight(rated) == 0.0
    return weightless


def _meter_lines(
    meter: InstrumentLimits, v: Floats, n: Floats, rated_rpm: float, scatter: float
) -> list[Contribution]:
    scale = float(np.mean(rated_rpm / n))
    lines = []
    if meter.known:
        limit = float(np.mean(meter.limit(v)))
        lines.append(Contribution.from_limits("accuracy of the meter", limit, sensitivity=scale))
    if scatter < meter.digit or not meter.known:
        # Digits that hardly change hide where between two digits the value lies.
        lines.append(
            Contribution.from_limits("last digit of the meter", 0.5 * meter.digit, sensitivity=scale)
        )
    return lines


def _tach_lines(tach: InstrumentLimits, n: Floats, value: float) -> list[Contribution]:
    mean = float(np.mean(n))
    lines = []
    if tach.known:
        limit = float(np.mean(tach.limit(n)))
        lines.append(
            Contribution.from_limits("accuracy of the tach", limit, sensitivity=-value / mean, unit="rpm")
        )
    if float(np.std(n)) < tach.digit or not tach.known:
        # A speed that moves over several digits is rounded up as often as down: that is in the scatter.
        lines.append(
            Contribution.from_limits(
                "last digit of the tach", 0.5 * tach.digit, sensitivity=-value / mean, unit="rpm"
            )
        )
    return lines


def _moved_together(v: Floats, n: Floats, rated_rpm: float, tach: InstrumentLimits) -> tuple[str, ...]:
    """Whether volts and speed moved together, and what that does to the scatter of a row, 5.2 of JCGM 100."""
    both = means_of(v, n)
    volts, rpm = both.value
    sensitivities = np.array([[rated_rpm / rpm, -volts * rated_rpm / rpm**2]])
    row = float(np.sqrt(both.sets))
    moved_v, moved_rpm = both.known.u * row
    scatter = row * float(both.known.through(sensitivities).u[0])
    unrelated = row * float(both.known.unrelated.through(sensitivities).u[0])
    r = float(both.known.correlation[0, 1])
    if unrelated > _GAINED * scatter:
        return (
            f"Volts and speed moved together (correlation {r:+.2f}): a row at rated speed scatters by "
            f"{scatter:.3f} V; had they been unrelated, it would by {unrelated:.3f} V.",
        )
    if moved_rpm > _DIGITS_MOVED * tach.digit and abs(volts) * moved_rpm > _GAINED * rpm * moved_v:
        return (
            f"The speed readings scatter by {moved_rpm:.1f} rpm and the volts do not move with them "
            f"(correlation {r:+.2f}): either the tach scatters by itself, or the volts do not follow the speed.",
        )
    return ()


def _follows(proportion: Proportion, value: float, meter: InstrumentLimits) -> bool:
    """The volts follow the speed, or there are too few volts or too little speed to tell."""
    if proportion.elasticity is None or abs(value) < max(20.0 * meter.digit, 0.5):
        return True
    return proportion.held_v is None and 0.6 <= proportion.elasticity <= 1.6
