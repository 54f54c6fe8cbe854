"""What an output that moves slowly with time leaves of a result: told, in the uncertainty, or nothing judged.

The causes named are general trade practice ("common practice, no source").
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.rated.drift import Drift, find_drift
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import RatedOutput, drifting
from daq.run.departing_doubts import with_departing
from daq.verdict.evidence import Evidence

__all__ = ["with_unsteady"]

_MOST = 0.05
"""Share of the output: where an end lies further away than this from the stated value nothing is judged."""
_MOST_ROWS = 5_000
"""Of longer runs about so many are looked at: what they scatter by is far under what is told."""


def with_unsteady(
    output: RatedOutput, evidence: Evidence, pairing: Pairing, meter: InstrumentLimits, tach: InstrumentLimits
) -> tuple[RatedOutput, Evidence]:
    """The output and the evidence with what does not hold still in them: a slow drift, or rows that depart.

    Args:
        output: a stated output.
        evidence: what else is known.
        pairing: the rows.
        meter: its limits.
        tach: its limits.
    """
    drift = _drift(output, pairing)
    if drift is not None:
        _, beside = with_departing(output, evidence, _without(pairing, drift), meter, tach)
        if beside is evidence:
            return _told(output, evidence, drift)
    departed, told = with_departing(output, evidence, pairing, meter, tach)
    if drift is None or told is not evidence:
        return departed, told
    return _told(output, evidence, drift)


def _drift(output: RatedOutput, pairing: Pairing) -> Drift | None:
    step = -(-len(pairing.mark) // _MOST_ROWS)
    rows, mark = pairing.rows, pairing.mark[::step]
    time_s, volts, n, slope = (
        column[::step] for column in (rows.time_s, rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    )
    good = (mark == Mark.GOOD) & np.isfinite(volts) & (n > 0.0)
    time_s, volts, n, slope = time_s[good], volts[good], n[good], np.nan_to_num(slope[good])
    rated_rpm, value = output.rated_speed_rpm, output.rated_voltage_v
    used = np.abs(n / rated_rpm - 1.0) <= output.reach
    return find_drift(time_s, volts * rated_rpm / n, n, slope, used, rated_rpm, value)


def _without(pairing: Pairing, drift: Drift) -> Pairing:
    """The rows with the drift taken out, so that what departs beside it shows."""
    rows = pairing.rows
    return replace(pairing, rows=replace(rows, voltage_v=rows.voltage_v / drift.course(rows.time_s)))


def _told(output: RatedOutput, evidence: Evidence, drift: Drift) -> tuple[RatedOutput, Evidence]:
    if evidence.in_doubt:
        return output, evidence
    said = _sentence(drift)
    advice = "Let it run until the volts hold still, and measure there; then again cold."
    limit_v = drift.limit_v(output.rated_voltage_v)
    if limit_v > _MOST * output.rated_voltage_v:
        said = f"{said} What it gives next can't be told from this run, so nothing is judged. {advice}"
        return output, replace(evidence, in_doubt=(said,))
    said = f"{said} The difference is in the uncertainty. {advice}"
    if drift.step_at_s is not None and evidence.lag is not None:
        # What a step makes of a swing of the volts, a lag makes too: the one that was found may stand in for it.
        evidence = replace(evidence, lag=replace(evidence.lag, determined=False))
    return drifting(output, drift), replace(evidence, notes=(said, *evidence.notes))


def _sentence(drift: Drift) -> str:
    if drift.step_at_s is not None:
        return (
            f"From about {drift.step_at_s:.0f} s on the output at rated speed is another, {drift.end_v:.2f} V after "
            f"{drift.begin_v:.2f} V before, as when a winding or magnets get hot, a joint lets go, or a load is "
            "switched."
        )
    way, cause = ("falls", "hot") if drift.falls else ("rises", "warm or a joint that settles")
    return (
        f"The output at rated speed {way} with time, from {drift.begin_v:.2f} V at the beginning to "
        f"{drift.end_v:.2f} V at the end, as a winding or magnets that get {cause} make it."
    )
