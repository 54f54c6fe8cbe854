"""Aligns whole streams: chooses how the tach averages, estimates the lag, and runs the kernel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.kink import kink_uncertainty
from daq.align.lag import LagEstimate, LagPrior, estimate_lag
from daq.align.marks import Mark
from daq.align.parts import LONG, parts
from daq.align.quick import quick_changes
from daq.align.revolution_table import RevolutionTable
from daq.align.revolutions import TachModel
from daq.align.streams import PlacedStreams
from daq.align.stretches import Pieces, telling_stretches
from daq.align.synchronizer import AlignmentParameters, Due, PairedRows, Synchronizer
from daq.align.tach_choice import TachChoice, choose_tach_model
from daq.align.two_cores import both, each_part, one_behind
from daq.cards.instrument import ChannelCard, Response

__all__ = ["Pairing", "pair_streams", "prior_from_cards", "prior_from_logs", "run_kernel"]

Floats = NDArray[np.float64]

_BLOCK = 1 << 14
"""Readings fed to the kernel at a time, so that what it holds stays in the processor's cache."""
_LONG_BLOCK = 1 << 17
"""The same of a run so long that two threads share the work: each turn at the interpreter costs them more."""
_USUAL_WINDOW_S = 0.4
_LONGEST_BRIDGE_S = 3.0
_LEAST_OVERLAP = 0.3


@dataclass(frozen=True)
class Pairing:
    """Aligned rows and what the alignment rests on."""

    rows: PairedRows
    mark: NDArray[np.uint8]
    """For each row, :class:`Mark`; shape (n,)."""
    parameters: AlignmentParameters
    lag: LagEstimate
    lag_u_s: float
    """Standard uncertainty of the lag with that of the two clocks in it."""
    model_chosen: bool
    """No card says how the tach averages, and the run shows it."""
    gaps: int
    """Holes in the speed readings too long to bridge."""
    model_rival: tuple[TachModel, LagEstimate] | None = None
    """The other way in which the tach may average, with its lag, where no card says it and both fit alike."""


def prior_from_cards(speed: ChannelCard | None, volts: ChannelCard | None) -> LagPrior:
    """What the cards say of the lag.

    Args:
        speed: the tach's channel.
        volts: the meter's channel.
    """
    own = speed.response if speed is not None else Response()
    theirs = volts.response if volts is not None else Response()
    if own.delay_s is None or theirs.delay_s is None:
        return LagPrior()
    late_volts = theirs.delay_s + 0.5 * (theirs.window_s or 0.0)
    late_speed = own.delay_s + 0.5 * (own.window_s or 0.0)
    centre = late_volts - late_speed
    return LagPrior(centre, 0.3, centre - 1.5, centre + 1.5)


def prior_from_logs(speed_t: Floats, volts_t: Floats) -> LagPrior:
    """How far two logs may be shifted whose clocks have nothing to do with each other.

    As far as the shorter of them still lies on the other with a third of its length. Nothing is expected
    but that clocks which can be right as they are stand first.

    Args:
        speed_t: times of the tach's log, seconds, not falling, shape (n,), n >= 1.
        volts_t: of the meter's log, shape (m,), m >= 1.
    """
    least = _LEAST_OVERLAP * min(speed_t[-1] - speed_t[0], volts_t[-1] - volts_t[0])
    low, high = float(volts_t[0] - speed_t[-1] + least), float(volts_t[-1] - speed_t[0] - least)
    centre = 0.0 if low <= 0.0 <= high else float(volts_t[0] - speed_t[0])
    low, high = min(low, centre - 1.0), max(high, centre + 1.0)
    return LagPrior(centre, max(centre - low, high - centre), low, high)


def pair_streams(
    streams: PlacedStreams,
    *,
    speed_card: ChannelCard | None,
    volts_card: ChannelCard | None,
    prior: LagPrior,
    digit_v: float,
    given: Pairing | None = None,
    window_s: float | None = None,
) -> Pairing:
    """Align two placed streams.

    Args:
        streams: both, placed.
        speed_card: the tach's channel.
        volts_card: the meter's channel.
        prior: what is known of the lag.
        digit_v: the meter's last digit.
        given: a pairing of the same run a moment ago, whose lag and tach model are taken over.
        window_s: over which the meter averages; None for what its card says, or else what is usual.
    """
    speed_t, speed = streams.usable_speed
    window = window_s or _voltage_window(volts_card, streams.volts_base.period_s)
    period = streams.speed_base.period_s
    max_gap = _max_gap(period, streams)
    if given is not None:
        choice = TachChoice(
            given.parameters.tach_model, given.lag, seen=given.model_chosen, rival=given.model_rival
        )
    else:
        fits = _fits(streams, _possible_models(streams, speed_card, period), window, max_gap, prior, digit_v)
        choice = choose_tach_model(fits)
    model, lag = choice.model, choice.lag
    parameters = AlignmentParameters(lag.lag_s, window, model, period, max_gap)
    rows = run_kernel(parameters, speed_t, speed, streams.volts_base.time_s, streams.volts)
    clocks = _clock_uncertainty(streams)
    lag_u_s = float(
        np.sqrt(lag.u_s**2 + clocks**2 + _kinks(speed, period, model, _covered(streams, window)) ** 2)
    )
    return Pairing(
        rows=rows,
        mark=_without_quick(
            _row_marks(rows, streams, parameters),
            rows,
            streams,
            parameters,
            lag_u_s if lag.determined else None,
        ),
        parameters=parameters,
        lag=lag,
        lag_u_s=lag_u_s,
        model_chosen=choice.seen,
        model_rival=choice.rival,
        gaps=sum(
            int(np.count_nonzero(np.diff(speed_t[part.start : part.stop + 1]) > max_gap))
            for part in parts(len(speed_t))
        ),
    )


def _fits(
    streams: PlacedStreams,
    models: list[TachModel],
    window_s: float,
    max_gap_s: float,
    prior: LagPrior,
    digit_v: float,
) -> dict[TachModel, LagEstimate]:
    """The lag under each way in which the tach may average, in the order of ``models``."""
    reach = window_s + 3.0 * max_gap_s
    some = telling_stretches(
        Pieces(*streams.usable_speed, *streams.usable_volts),
        earliest_s=prior.high_s + reach,
        latest_s=reach - prior.low_s,
    )

    def fit(model: TachModel) -> LagEstimate:
        table = RevolutionTable.of(
            some.speed_t,
            some.speed,
            model=model,
            period_s=streams.speed_base.period_s,
            max_gap_s=max_gap_s,
        )
        return estimate_lag(
            table, some.volts_t, some.volts, window_s=window_s, prior=prior, resolution_v=digit_v
        )

    if len(models) == 2:
        first, second = models
        one, other = both(lambda: fit(first), lambda: fit(second), readings=len(streams.volts))
        return {first: one, second: other}
    return {model: fit(model) for model in models}


def _voltage_window(card: ChannelCard | None, interval_s: float | None) -> float:
    if card is not None and card.response.window_s:
        return card.response.window_s
    return min(interval_s, _USUAL_WINDOW_S) if interval_s else _USUAL_WINDOW_S


def _possible_models(
    streams: PlacedStreams, card: ChannelCard | None, period_s: float | None
) -> list[TachModel]:
    if streams.counted:
        return ["counted"]
    response = card.response if card is not None else Response()
    if response.averaging is not None:
        return [response.averaging]
    if response.window_s is not None and period_s is not None:
        return ["contiguous" if response.window_s > 0.7 * period_s else "sampled"]
    return ["contiguous", "sampled"]


def _max_gap(period_s: float | None, streams: PlacedStreams) -> float:
    """One reading may be missing; without a steady pace, two and a half usual intervals may pass."""
    if period_s is None:
        steps = np.diff(streams.speed_base.time_s)
        period_s = float(np.median(steps)) if len(steps) else 1.0
    return float(np.clip(2.6 * period_s, 0.3, _LONGEST_BRIDGE_S))


def run_kernel(
    parameters: AlignmentParameters, speed_t: Floats, speed: Floats, volts_t: Floats, volts: Floats
) -> PairedRows:
    """Pair whole streams; arguments as in :meth:`Synchronizer.feed`, one row for each volts reading."""
    count = len(volts_t)
    kernel = Synchronizer(parameters)
    paired = PairedRows(volts_t, volts, np.empty(count), np.empty(count), np.empty(count, dtype=np.bool_))
    # In step with time, not with counts: the two streams may have very different paces or starts.
    block = _BLOCK if count <= LONG else _LONG_BLOCK
    moments = volts_t[block::block]
    volts_at = [*range(block, count, block), count]
    speed_at = [*np.searchsorted(speed_t, moments - parameters.lag_s).tolist(), len(speed_t)]

    def due() -> Iterator[Due]:
        v0 = s0 = 0
        for v1, s1 in zip(volts_at, speed_at, strict=True):
            yield kernel.take(speed_t[s0:s1], speed[s0:s1], volts_t[v0:v1], volts[v0:v1])
            v0, s0 = v1, s1
        yield kernel.take_last()

    done = 0
    # While one part's rows are worked out of the table of revolutions, the table of the next is made.
    for rows in one_behind(due(), Due.rows, readings=count):
        done = _put(paired, done, rows)
    return paired


def _put(paired: PairedRows, done: int, part: PairedRows) -> int:
    """Put a part's speeds where they belong; how many rows are done then."""
    end = done + len(part.time_s)
    paired.speed_rpm[done:end] = part.speed_rpm
    paired.slope_rpm_s[done:end] = part.slope_rpm_s
    paired.bridged[done:end] = part.bridged
    return end


def _clock_uncertainty(streams: PlacedStreams) -> float:
    """How well the mean lateness of each stream is known from its own scatter."""
    total = 0.0
    for base in (streams.speed_base, streams.volts_base):
        if base.period_s is not None and len(base.time_s):
            total += base.jitter_s**2 * base.pieces / len(base.time_s)
    return float(np.sqrt(total))


def _kinks(speed: Floats, period_s: float | None, model: TachModel, covered: float) -> float:
    return 0.0 if period_s is None or model == "counted" else kink_uncertainty(speed, period_s, covered)


def _covered(streams: PlacedStreams, window_s: float) -> float:
    """Share of the time that the meter's windows cover."""
    return window_s / streams.volts_base.period_s if streams.volts_base.period_s else 1.0


def _row_marks(
    rows: PairedRows, streams: PlacedStreams, parameters: AlignmentParameters
) -> NDArray[np.uint8]:
    mark = streams.marks.volts.copy()
    touched = np.empty(len(mark), dtype=np.bool_)

    def look(part: slice) -> None:
        good, unknown = mark[part] == Mark.GOOD, ~np.isfinite(rows.speed_rpm[part])
        mark[part][good & unknown] = Mark.NO_SPEED
        mark[part][good & (np.abs(rows.speed_rpm[part]) < 200.0)] = Mark.STOPPED
        touched[part] = good & (rows.bridged[part] | unknown)

    each_part(len(mark), look)
    if bool(np.any(touched)):
        false = _near_false(rows, streams, parameters)
        mark[touched & false] = Mark.FALSE_SPEED
        mark[touched & ~false & rows.bridged] = Mark.BRIDGED
    return mark


def _without_quick(
    mark: NDArray[np.uint8],
    rows: PairedRows,
    streams: PlacedStreams,
    parameters: AlignmentParameters,
    lag_u_s: float | None,
) -> NDArray[np.uint8]:
    """The marks with one on good rows beside a change of throttle that the tach can't show; a counter shows all."""
    if streams.counted:
        return mark
    quick = quick_changes(*streams.usable_speed, longest_s=parameters.max_gap_s)
    if len(quick.before_s) == 0:
        return mark
    beside = quick.beside(rows.time_s - parameters.lag_s, parameters.voltage_window_s, lag_u_s)
    mark[beside & (mark == Mark.GOOD)] = Mark.TOO_QUICK
    return mark


def _near_false(
    rows: PairedRows, streams: PlacedStreams, parameters: AlignmentParameters
) -> NDArray[np.bool_]:
    """Rows whose window lies within a tach reading of a false one."""
    at = streams.speed_base.time_s[streams.marks.speed == Mark.FALSE_SPEED]
    if len(at) == 0:
        return np.zeros(len(rows.time_s), dtype=np.bool_)
    reach = 0.5 * parameters.voltage_window_s + (parameters.tach_period_s or 1.0)
    middle = rows.time_s - parameters.lag_s
    index = np.searchsorted(at, middle)
    before = np.abs(middle - at[np.clip(index - 1, 0, len(at) - 1)])
    after = np.abs(at[np.clip(index, 0, len(at) - 1)] - middle)
    return np.asarray(np.minimum(before, after) <= reach)
