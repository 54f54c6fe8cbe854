"""What rows that depart from the stated output forbid, widen, or leave: in sentences for a mechanic.

The causes named are general trade practice ("common practice, no source").
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.rated.departing import Departing, UsualAtSpeed, find_departing
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import RatedOutput, widened
from daq.run.departing_none import surely_none_departs
from daq.verdict.evidence import Evidence

__all__ = ["marked_apart", "with_departing"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_MOST = 0.05
"""Share of the output: levels further apart are not put into the uncertainty, nothing is judged."""


@dataclass(frozen=True)
class _Rows:
    time_s: Floats
    rated_v: Floats
    speed_rpm: Floats
    slope_share_s: Floats
    mark: NDArray[np.uint8]


def with_departing(
    output: RatedOutput, evidence: Evidence, pairing: Pairing, meter: InstrumentLimits, tach: InstrumentLimits
) -> tuple[RatedOutput, Evidence]:
    """The output and the evidence with what departs in them.

    Args:
        output: a stated output.
        evidence: what else is known. Beside another doubt only what explains it is told: volts that fell away or down.
        pairing: the rows, those called spikes and drop-outs among them.
        meter: its limits, for the digit.
        tach: its limits, for the digit.
    """
    found = _find(output, pairing, meter, tach)
    if found is None or (evidence.in_doubt and found.kind not in ("away", "later")):
        return output, evidence
    said = _sentence(found)
    if found.kind == "away" or found.limit_v > _MOST * max(abs(output.rated_voltage_v), found.high_v):
        told = 0 if found.kind == "away" else evidence.dropouts  # said by this sentence
        said = (
            f"{said} What it gives next can't be told from this run, so nothing is judged. {_advice(found)}"
        )
        return output, replace(evidence, in_doubt=(said, *evidence.in_doubt), dropouts=told)
    said = f"{said} The difference is in the uncertainty. {_advice(found)}"
    notes = (said, *evidence.notes)
    wide = widened(output, "output that does not hold still", found.limit_v)
    return wide, replace(evidence, notes=notes)


def marked_apart(pairing: Pairing, counted: Flags, output: RatedOutput) -> Pairing:
    """The pairing with a mark on the rows that weigh nothing.

    Args:
        pairing: as the output rests on it.
        counted: which of its rows the output was given, shape (n,).
        output: the output.
    """
    if not bool(output.weightless.any()):
        return pairing
    mark = pairing.mark.copy()
    mark[np.flatnonzero(counted)[output.weightless]] = Mark.APART
    return replace(pairing, mark=mark)


def _find(
    output: RatedOutput, pairing: Pairing, meter: InstrumentLimits, tach: InstrumentLimits
) -> Departing | None:
    if surely_none_departs(output, pairing, meter.digit, tach.digit):
        return None
    rows = _rows(pairing, output.rated_speed_rpm)
    near = np.abs(rows.speed_rpm / output.rated_speed_rpm - 1.0) <= output.reach
    value, found = output.rated_voltage_v, None
    if int(near.sum()) > 1:
        t, rated, n = rows.time_s[near], rows.rated_v[near], rows.speed_rpm[near]
        level = max(abs(value), float(np.quantile(np.abs(rated), 0.9)), 1e-9)
        digit = meter.digit / level + tach.digit / float(np.median(n))
        good = rows.mark[near] == Mark.GOOD
        usual = np.full(len(n), value)
        if bool(good.any()):
            usual = UsualAtSpeed.of(n[good], rated[good], value).at(n)
        found = find_departing(t, rated, usual, rows.slope_share_s[near], value, digit, n)
        if found is not None and found.kind != "away":
            return found
    away = rows.mark == Mark.DROPOUT
    if not bool(away.any()):
        return found
    # What fell away is counted over the whole run, not near rated speed alone.
    fell = np.where(away, rows.rated_v, value)
    still = np.zeros(len(fell))
    whole = find_departing(rows.time_s, fell, np.full(len(fell), value), still, value, 0.0)
    return found if whole is None or (found is not None and found.count > whole.count) else whole


def _rows(pairing: Pairing, rated_rpm: float) -> _Rows:
    all_of_them = pairing.rows
    looked = np.isin(pairing.mark, (Mark.GOOD, Mark.VOLTAGE_SPIKE, Mark.DROPOUT))
    looked &= np.isfinite(all_of_them.speed_rpm) & np.isfinite(all_of_them.voltage_v)
    looked &= np.nan_to_num(all_of_them.speed_rpm) > 0.0
    n = all_of_them.speed_rpm[looked]
    return _Rows(
        all_of_them.time_s[looked],
        all_of_them.voltage_v[looked] * rated_rpm / n,
        n,
        np.nan_to_num(all_of_them.slope_rpm_s[looked]) / n,
        pairing.mark[looked],
    )


def _sentence(found: Departing) -> str:
    share = f"{100.0 * found.count / found.rows:.0f} % of the rows"
    levels = f"{found.high_v:.2f} V and {found.low_v:.2f} V"
    times = "once" if found.spells == 1 else f"{found.spells} times"
    longest = f", {found.longest_s:.1f} s at the longest" if found.spells > 1 else ""
    longest += f", {'first ' if found.spells > 1 else ''}at {found.from_s:.0f} s"
    match found.kind:
        case "away":
            return (
                f"The volts fell away {times}, for {found.total_s:.1f} s in all{longest} ({share}), while the engine "
                f"ran: from about {found.high_v:.2f} V at rated speed to {found.low_v:.2f} V. This is an "
                "intermittent joint: a loose lead, connector or clip, or a winding that opens."
            )
        case "drift":
            first, last = (found.high_v, found.low_v) if found.falls else (found.low_v, found.high_v)
            return (
                f"The output at rated speed {'falls' if found.falls else 'rises'} with time, from {first:.2f} V at "
                f"the beginning to {last:.2f} V at the end, as a winding or magnets that get "
                f"{'hot' if found.falls else 'warm or a joint that settles'} make it."
            )
        case "later":
            before, after = (found.high_v, found.low_v) if found.falls else (found.low_v, found.high_v)
            return (
                f"From about {found.from_s:.0f} s on the output at rated speed is another, {after:.2f} V after "
                f"{before:.2f} V before ({share}), as when a winding or magnets get hot, a joint lets go, or a load "
                "is switched."
            )
        case "levels":
            return (
                f"The output at rated speed stands at two levels, {levels}: {times} on the second for "
                f"{found.total_s:.1f} s in all{longest} ({share}). Usual causes: an intermittent joint, turns that "
                "touch, a load that switches, or a tach that counts falsely for part of the time."
            )
        case "alone":
            return (
                f"{found.count} of {found.rows} rows ({share}) jump away from the others, {levels} at rated speed: "
                "an intermittent joint or meter clip, sparks in the meter's leads, or a tach that counts falsely at "
                "times."
            )


def _advice(found: Departing) -> str:
    if found.kind in ("drift", "later"):
        return "Let it run until the volts hold still, and measure there; then again cold."
    also = "look at the tach's mark, " if found.kind in ("alone", "levels") else ""
    return f"Press the leads on, {also}move each joint by hand while the engine runs to find it, and repeat."
