"""Signs of a wrong setting of an instrument, looked for in a run."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.setting_signs import setting_signs
from daq.align.streams import PlacedStreams
from daq.model.quantity import Quantity
from daq.run.channels import RunData
from daq.run.left_out import quality_counts
from daq.run.speed_doubts import split_speed

__all__ = ["signs"]

Floats = NDArray[np.float64]


def signs(data: RunData, streams: PlacedStreams, pairing: Pairing) -> list[str]:
    """Signs of a wrong setting of an instrument, in sentences.

    The two streams are brought together first; where logs with clocks of their
    own could not be, nothing can be said of one by the other.
    """
    volts, speed = data.volts, data.speed
    if volts is None or speed is None or speed.entry.quantity is not Quantity.ROTATIONAL_SPEED:
        return []
    if data.own_clocks and (not pairing.lag.determined or pairing.lag.rivals_s):
        return []
    if split_speed(data, streams, pairing) is not None:
        return []  # told by its own sentence; against half of a run everything looks wrong
    counts = volts.usable & (streams.marks.volts != Mark.DROPOUT)
    return setting_signs(
        streams.speed_base.time_s,
        _valued(speed.value, speed.usable),
        streams.volts_base.time_s - pairing.lag.lag_s,
        _valued(volts.value, counts),
        false_speed=streams.marks.speed == Mark.FALSE_SPEED,
        speed_counts=quality_counts(speed),
        volts_counts=quality_counts(volts),
    )


def _valued(value: Floats, usable: NDArray[np.bool_]) -> Floats:
    """NaN where a value is not usable."""
    return value if bool(usable.all()) else np.where(usable, value, np.nan)
