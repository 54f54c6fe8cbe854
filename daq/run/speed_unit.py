"""Speeds far too small beside live volts: their unit is another than rpm.

An engine that turns at two to six revolutions a minute does not run, and one at 40 to 100 makes no volts worth the
name. Beside volts such numbers are thousands of rpm, or revolutions a second (common practice, no source).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.parts import spread
from daq.align.streams import PlacedStreams
from daq.run.channels import RunData

__all__ = ["in_other_unit", "unit_doubts"]

_LIVE_V = 1.0
"""Volts from which on an alternator is turning."""
_THOUSANDS = (0.5, 10.0)
_A_SECOND = (15.0, 170.0)
"""Revolutions a second of engines from 900 to 10,000 rpm; fewer rpm than that is no engine under its own power."""


def in_other_unit(streams: PlacedStreams) -> str | None:
    """The unit that the speeds seem to be in, "krpm" or "1/s"; None where rpm can be right."""
    if streams.counted:
        return None
    speed, volts = (_sizes(x) for x in (streams.speed, streams.volts))
    if len(speed) == 0 or len(volts) == 0 or float(np.median(volts)) < _LIVE_V:
        return None
    usual, most = float(np.median(speed)), float(np.quantile(speed, 0.99))
    for unit, (low, high) in (("krpm", _THOUSANDS), ("1/s", _A_SECOND)):
        if low <= usual and most <= high:
            return unit
    return None


def _sizes(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sizes of the readings with a value; of very many, of some that stand for all."""
    some = values[spread(len(values))]
    return np.abs(some[np.isfinite(some)])


def unit_doubts(data: RunData, streams: PlacedStreams) -> tuple[str, ...]:
    """A sentence that forbids a verdict where the speeds are no rpm; empty else."""
    unit = in_other_unit(streams)
    if unit is None:
        return ()
    usual = float(np.nanmedian(np.abs(streams.speed)))
    volts = float(np.nanmedian(np.abs(streams.volts)))
    likely = (
        "thousands of rpm, or a point parts the thousands"
        if unit == "krpm"
        else "revolutions a second, or a frequency"
    )
    todo = (
        f"Write the unit into the column's header, such as 'speed [{unit}]', or put the numbers into rpm, and import "
        "again."
        if data.imported
        else "Set the tach to rpm, or correct its card, and repeat."
    )
    return (
        f"The speeds read about {usual:.3g} rpm while the volts stand at about {volts:.1f} V: no engine turns so "
        f"slowly with them. The numbers are likely {likely}; nothing is judged. {todo}",
    )
