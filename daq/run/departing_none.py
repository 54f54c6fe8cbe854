"""Whether of very many rows none departs from the output, told part by part.

Nearly every long run is so, and then nothing has to be kept of all its rows at
once. The levels against which a row is held are those of some rows that stand
for all; each row is held against them. Where any departs, or there are too few
to tell, :mod:`daq.run.departing_doubts` looks at all rows together.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.parts import LONG, spread
from daq.align.two_cores import each_part
from daq.rated.departing import UsualAtSpeed, beyond_a_gap, departing_scale, least_share, moving_share
from daq.rated.output import RatedOutput
from daq.rated.two_levels import second_level

__all__ = ["surely_none_departs"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_LEAST_ROWS = 10_000
_LOOKED_AT = (Mark.GOOD, Mark.VOLTAGE_SPIKE, Mark.DROPOUT)


class _Some(NamedTuple):
    rated_v: Floats
    speed_rpm: Floats
    slope_share_s: Floats
    near: Flags
    """Rows that are looked at, and at speeds from which the output comes; the others' numbers mean nothing."""
    good: Flags


def surely_none_departs(output: RatedOutput, pairing: Pairing, digit_v: float, digit_rpm: float) -> bool:
    """True only for a very long run of which no row departs.

    Args:
        output: a stated output.
        pairing: the rows, those called spikes and drop-outs among them.
        digit_v: the meter's last digit.
        digit_rpm: the tach's last digit.
    """
    count = len(pairing.mark)
    if count <= LONG or bool(np.any(pairing.mark == Mark.DROPOUT)):
        return False
    places = spread(count - 1)
    some, after = _some(pairing, output, places), _some(pairing, output, _next(places))
    counted = some.near & some.good
    if int(counted.sum()) < _LEAST_ROWS:
        return False
    value, rated_v = output.rated_voltage_v, some.rated_v[some.near]
    scale = departing_scale(rated_v, value)
    if scale == 0.0:
        return True
    usual = UsualAtSpeed.of(some.speed_rpm[counted], some.rated_v[counted], value)

    def off(rows: _Some) -> Floats:
        return np.asarray((rows.rated_v - usual.at(rows.speed_rpm)) / scale)

    here, pairs = off(some), some.near & after.near
    digit = digit_v / scale + digit_rpm / float(np.median(some.speed_rpm[some.near]))
    least = least_share(here[some.near], (off(after) - here)[pairs], digit)
    if bool(beyond_a_gap(here[some.near], digit).any()):
        return False
    flat = (some.rated_v[some.near] - value) / scale
    if bool(second_level(flat, some.slope_share_s[some.near], some.speed_rpm[some.near], digit).any()):
        return False
    departing: list[int] = []

    def look(part: slice) -> None:
        rows = _some(pairing, output, part)
        allowed = least + moving_share(rows.slope_share_s)
        departing.append(int(np.count_nonzero(rows.near & (np.abs(off(rows)) > allowed))))

    each_part(count, look)
    return sum(departing) == 0


def _next(places: slice | NDArray[np.int64]) -> slice | NDArray[np.int64]:
    return slice(places.start + 1, places.stop + 1) if isinstance(places, slice) else places + 1


def _some(pairing: Pairing, output: RatedOutput, places: slice | NDArray[np.int64]) -> _Some:
    rows, mark = pairing.rows, pairing.mark[places]
    n, v = rows.speed_rpm[places], rows.voltage_v[places]
    near = np.isin(mark, _LOOKED_AT) & np.isfinite(v) & (n > 0.0)
    near &= np.abs(n / output.rated_speed_rpm - 1.0) <= output.reach
    n = np.where(near, n, output.rated_speed_rpm)
    slope_share_s = np.nan_to_num(rows.slope_rpm_s[places]) / n
    return _Some(v * output.rated_speed_rpm / n, n, slope_share_s, near, mark == Mark.GOOD)
