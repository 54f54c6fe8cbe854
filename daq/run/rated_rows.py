"""The aligned rows in full: scaled to rated speed, with each row's uncertainty and marks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.pairing import Pairing
from daq.align.synchronizer import PairedRows
from daq.align.two_cores import each_part
from daq.cards.machine import MachineCard
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, RatedOutput, row_uncertainty
from daq.run.rows import AlignedRows

__all__ = ["STEADY_SHARE_PER_S", "rated_rows"]

Floats = NDArray[np.float64]

STEADY_SHARE_PER_S = 0.01
"""A row is steady where the speed changes by at most this share of rated speed in a second."""
_TURNING_RPM = 200.0
"""Below this the engine barely turns, and nothing is scaled."""


def rated_rows(
    pairing: Pairing,
    output: RatedOutput | None,
    machine: MachineCard | None,
    meter: InstrumentLimits,
    tach: InstrumentLimits,
) -> AlignedRows:
    """Scale the paired rows.

    Args:
        pairing: the rows as paired.
        output: the run's rated output; where it says that the volts do not follow the speed, no row is
            scaled, and without it no row has an uncertainty.
        machine: gives rated speed and tolerance; without it no row is scaled.
        meter: its limits of error.
        tach: its limits of error.
    """
    rows, n = pairing.rows, len(pairing.rows.time_s)
    rated, u = np.full(n, np.nan), np.full(n, np.nan)
    steady, in_window = np.zeros(n, dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    finished = AlignedRows(
        rows.time_s, rows.speed_rpm, rows.voltage_v, rated, u, steady, in_window, pairing.mark
    )
    if machine is None:
        return finished

    def finish(part: slice) -> None:
        rpm = np.nan_to_num(rows.speed_rpm[part], nan=np.inf)
        slope = np.abs(np.nan_to_num(rows.slope_rpm_s[part], nan=np.inf))
        steady[part] = slope <= STEADY_SHARE_PER_S * machine.rated_speed_rpm
        in_window[part] = np.abs(rpm - machine.rated_speed_rpm) <= machine.speed_tolerance_rpm
        valued = np.isfinite(rpm) & (np.abs(rpm) >= _TURNING_RPM) & np.isfinite(rows.voltage_v[part])
        some = _chosen(rows, part, valued)
        if output is None or output.scaled:
            rated[part][valued] = some.voltage_v * machine.rated_speed_rpm / some.speed_rpm
        if output is not None and output.scaled:
            u[part][valued] = row_uncertainty(
                some,
                machine.rated_speed_rpm,
                pairing.lag,
                meter,
                tach,
                output.scatter_v,
                output.proportion,
            )

    each_part(n, finish)
    return finished


def _chosen(rows: PairedRows, part: slice, chosen: NDArray[np.bool_]) -> CountedRows:
    columns = (rows.time_s, rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    return CountedRows(*(column[part][chosen] for column in columns))
