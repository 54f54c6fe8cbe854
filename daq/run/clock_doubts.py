"""Whether one shift brings the logs of two clocks together at all."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.clock_jump import ClockJump, find_clock_jump
from daq.align.marks import Mark
from daq.align.pairing import Pairing, prior_from_logs
from daq.align.snaps import LevelChanges, followed, level_changes
from daq.align.streams import PlacedStreams, changes_of
from daq.run.channels import RunData

__all__ = ["clock_doubts"]

Floats = NDArray[np.float64]

_SLOW_S = 0.75
"""From this time between readings on, three of them are no moment."""
_MOSTLY = 0.7
"""Share of a change that is made at once, then."""


def clock_doubts(data: RunData, streams: PlacedStreams, pairing: Pairing, digit_v: float) -> tuple[str, ...]:
    """Sentences that forbid a verdict; empty where the run has one clock, or one shift brings its two together."""
    if not data.own_clocks:
        return ()
    if unshared := _snap_of_one_log(streams, pairing):
        return unshared
    prior = prior_from_logs(streams.speed_base.time_s, streams.volts_base.time_s)
    jump: ClockJump | None = find_clock_jump(streams, pairing.parameters, prior, digit_v)
    if jump is None:
        return ()
    return (
        f"The clock of one log jumps by {abs(jump.by_s):.1f} s at about {jump.at_s:.0f} s: no one shift brings the "
        "two together. Cut both logs there and import the parts.",
    )


def _snap_of_one_log(streams: PlacedStreams, pairing: Pairing) -> tuple[str, ...]:
    """The speed changed at once, the volts of the other log do so at no shift, and nothing else shows the shift."""
    if streams.counted or pairing.lag.determined or pairing.lag.rivals_s:
        return ()
    _, volts = changes_of(streams)
    good = streams.marks.speed == Mark.GOOD  # what is known to be false is told by itself
    speed = level_changes(streams.speed_base.time_s[good], streams.speed[good])
    alone = ~followed(speed.log, speed.time_s, volts, speed.step_s + volts.step_s)
    if max(speed.step_s, volts.step_s) > _SLOW_S:
        # Over three such readings an engine may change as much, and the other log count a reading more for it.
        alone &= _from_one_to_the_next(speed, streams.speed_base.time_s[good], streams.speed[good])
    if not bool(np.any(alone)):
        return ()
    first = int(np.argmax(alone))
    return (
        f"At about {speed.time_s[first]:.0f} s the speed is {np.exp(speed.log[first]):.1f} times what it was, at once, "
        "and the volts of the other log make no such change. Either the tach began to count otherwise, or the logs "
        "are not of the same moments; nothing is judged. Put on one clean mark, and repeat with both logs running.",
    )


def _from_one_to_the_next(changes: LevelChanges, time_s: Floats, value: Floats) -> NDArray[np.bool_]:
    """Which changes are made, for the most part, from one reading to the next."""
    step = np.abs(np.diff(np.log(value)))
    reach_s = 1.6 * changes.step_s
    first = np.searchsorted(time_s, changes.time_s - reach_s)
    last = np.searchsorted(time_s, changes.time_s + reach_s, side="right")
    largest = [
        float(np.max(step[a : max(b - 1, a + 1)], initial=0.0)) for a, b in zip(first, last, strict=True)
    ]
    return np.asarray(np.array(largest) > _MOSTLY * np.abs(changes.log))
