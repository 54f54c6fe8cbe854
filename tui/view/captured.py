"""A captured hold: rated speed held long enough for a result, told once for each hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.view.doing import captured_words
from tui.view.hold import HOLD_S, hold_now
from tui.view.numbers import clock, known
from tui.view.state import Captured, Memory

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot

__all__ = ["captured_now"]


def captured_now(
    snapshot: Snapshot, memory: Memory, decimals: int | None = None
) -> tuple[Captured | None, float | None]:
    """The newest captured hold, and the time until which it was seen to go on.

    A hold is captured when it has lasted :data:`tui.view.hold.HOLD_S` and a rated
    output is known. Another one has to begin after the captured one was last seen: a
    reading that breaks a hold and turns out to be false begins no other.

    Args:
        snapshot: the state of the followed recording.
        memory: what the last view handed on.
        decimals: those of the main value.
    """
    hold, seen_s = hold_now(snapshot.rows, snapshot.t_s), memory.held_until_s
    if hold is None:
        return memory.captured, seen_s
    if seen_s is not None and hold.began_s <= seen_s <= snapshot.t_s:
        return memory.captured, hold.until_s
    if hold.until_s - hold.began_s < HOLD_S or not known(snapshot.result.rated_voltage_V):
        return memory.captured, seen_s
    number = 1 if memory.captured is None else memory.captured.number + 1
    words = f"Hold captured at {clock(snapshot.t_s)}: {captured_words(snapshot, decimals)}"
    return Captured(number, words), hold.until_s
