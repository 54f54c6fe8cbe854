"""What a tach that smooths more than assumed leaves of a result: told, and in the uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.rated.output import RatedOutput, widened
from daq.rated.smoothing import Smoothing, find_smoothing
from daq.verdict.evidence import Evidence

__all__ = ["with_smoothing"]

_NAME = "tach that smooths more than assumed"
_ROOM = 1.25
"""Times the effect that is in the uncertainty: what it rests on is a fit to second order (judgement)."""
_LEAST = 0.1
"""Share of the expanded uncertainty under which the effect is left out: chance makes as much."""
_STRETCHES, _ROWS = 10, 2_000
"""Of longer runs so many stretches of so many rows are looked at."""


def with_smoothing(output: RatedOutput, evidence: Evidence, pairing: Pairing) -> tuple[RatedOutput, Evidence]:
    """The output and the evidence with what a smoothing tach does to them.

    Args:
        output: a stated output.
        evidence: what else is known; beside a doubt nothing more is said.
        pairing: the rows.
    """
    lag, model = pairing.lag, pairing.parameters.tach_model
    if evidence.in_doubt or model == "counted" or not lag.determined or lag.rivals_s:
        return output, evidence
    found = _found(output, pairing)
    if found is None or abs(found.effect_v) < _LEAST * output.budget.expanded_uncertainty:
        return output, evidence
    half_width_v = _ROOM * abs(found.effect_v)
    wide = widened(output, _NAME, half_width_v)
    if not found.seen:
        return wide, evidence
    note = _note(found, half_width_v)
    # Neither way of averaging fits, so it is not said that one of them does.
    return wide, replace(evidence, tach_model_chosen=False, notes=(note, *evidence.notes))


def _found(output: RatedOutput, pairing: Pairing) -> Smoothing | None:
    rows, some = pairing.rows, _some(len(pairing.mark))
    time_s, volts, n, slope = (
        column[some] for column in (rows.time_s, rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    )
    good = (pairing.mark[some] == Mark.GOOD) & np.isfinite(volts) & np.isfinite(slope) & (n > 0.0)
    return find_smoothing(
        time_s[good],
        volts[good],
        n[good],
        slope[good],
        rated_rpm=output.rated_speed_rpm,
        reach=output.reach,
        period_s=pairing.parameters.tach_period_s or 0.0,
    )


def _some(count: int) -> slice | np.ndarray[tuple[int], np.dtype[np.int64]]:
    if count <= _STRETCHES * _ROWS:
        return slice(None)
    starts = np.linspace(0, count - _ROWS, _STRETCHES).astype(np.int64)
    return (starts[:, None] + np.arange(_ROWS)).ravel()


def _note(found: Smoothing, half_width_v: float) -> str:
    said = (
        f"The volts differ from the speed as they do beside a tach that smooths its readings over about "
        f"{2.0 * found.time_s:.1f} s more than assumed, so that it shows the tops of a sweep too low"
    )
    if found.or_offset:
        said += "; an offset of the volts, as a load or a diode in the leads makes it, looks the same here"
    return (
        f"{said}. ±{half_width_v:.2g} V for it is in the uncertainty. Hold a steady speed near "
        "the rated one, or sweep slower: there it does nothing."
    )
