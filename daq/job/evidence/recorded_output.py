"""The AC output of a recording at rated speed, as a slot of the sheet holds it."""

from __future__ import annotations

import math

import numpy as np

from daq.align.marks import Mark
from daq.cards.machine import MachineCard
from daq.job.evidence.observed import RatedFound
from daq.run.recorded import RecordedRun

__all__ = ["rated_found"]


def rated_found(run: RecordedRun, machine: MachineCard, *, until_s: float = math.inf) -> RatedFound:
    """Rated output, its shape against speed, and its dropouts.

    Args:
        run: the recording.
        machine: the job's machine card.
        until_s: from when on the engine ran down to a stop. Volts that fall away then are no dropouts, and a
            run-down is no sweep: the line of volts against speed is not stated.
    """
    analysis = run.analysis()
    result, rows = analysis.result, analysis.rows
    away = (rows.mark == Mark.DROPOUT) & (rows.time_s < until_s)
    stopped = math.isfinite(until_s)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], away.astype(np.int8), [0]))))
    step = float(np.median(np.diff(rows.time_s))) if len(rows.time_s) > 1 else 0.0
    speeds = rows.speed_rpm[np.isfinite(rows.speed_rpm)]
    judged = (
        result.verdict != "not_enough_data"
    )  # else it was reckoned from too far away to be held against a limit
    return RatedFound(
        rated_speed_rpm=machine.rated_speed_rpm,
        rated_voltage_v=result.rated_voltage_V if judged else None,
        u_rated_voltage_v=result.standard_uncertainty_V or 0.0,
        degrees_of_freedom=result.effective_degrees_of_freedom,
        coverage_factor=result.coverage_factor if judged else None,
        offset_v=None if stopped else result.offset_V,
        u_offset_v=None if stopped else result.offset_u_V,
        dropouts=len(edges) // 2,
        dropout_s=float(away.sum()) * step,
        highest_speed_rpm=float(np.percentile(speeds, 98.0)) if len(speeds) else None,
        reasons=tuple(result.reasons),
    )
