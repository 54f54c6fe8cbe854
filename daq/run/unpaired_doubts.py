"""Logs of two clocks between which no shift was found: what rests on their rows is not told of them.

Rows of two logs belong together by the shift between the clocks. Where the speed moved and no shift was found, a
volts reading stands beside the speed of another moment, and nearly anything can be seen in such rows: two levels, a
drift, a tach that scatters. None of that is the machine's. What forbids a verdict then is that the shift isn't known.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from daq.align.pairing import Pairing
from daq.align.parts import spread
from daq.align.streams import PlacedStreams
from daq.rated.output import RatedOutput
from daq.run.channels import RunData
from daq.verdict.evidence import Evidence

__all__ = ["told_of_unpaired", "unpaired"]

_MOVED = 0.02
"""Share by which the speed must move for the shift to matter (judgement)."""
_SHIFT_UNKNOWN = (
    "The speed moved, and no shift between the clocks of the two logs was found at which the volts follow it well "
    "enough to be sure, so it isn't known which volts belong to which speed: nothing is judged. Log both with one "
    "device, or log two readings a second or more for a minute or longer, with two sweeps up and down of different "
    "length, and a hold near rated speed."
)


def unpaired(data: RunData, streams: PlacedStreams, pairing: Pairing) -> bool:
    """Whether the rows' volts may belong to speeds of other moments: two clocks, a speed that moved, and no shift.

    Args:
        data: the run.
        streams: its volts and speed, placed.
        pairing: their alignment.
    """
    if not data.own_clocks or streams.counted or pairing.lag.determined or pairing.lag.rivals_s:
        return False
    _, speed = streams.usable_speed
    if len(speed) == 0:
        return False
    low, middle, high = np.quantile(speed[spread(len(speed))], (0.02, 0.5, 0.98)).tolist()
    return bool(high - low > _MOVED * abs(middle))


def told_of_unpaired(output: RatedOutput | None, before: Evidence, after: Evidence) -> Evidence:
    """The evidence without what only rows that may not belong together say.

    Args:
        output: the output as it stands.
        before: what was known without looking at what the rows say beside each other.
        after: with that.
    """
    refused = after.in_doubt != before.in_doubt or (output is not None and not output.scaled)
    in_doubt = (*before.in_doubt, _SHIFT_UNKNOWN) if refused else before.in_doubt
    return replace(before, in_doubt=in_doubt, unpaired=True)
