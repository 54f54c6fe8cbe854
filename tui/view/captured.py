"""A captured hold: rated speed held long enough for a result, told once for each hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.view.doing import captured_words
from tui.view.hold import HOLD_S, held_s
from tui.view.numbers import clock, known
from tui.view.state import Captured, Memory

if TYPE_CHECKING:
    from daq.run.snapshot import Snapshot

__all__ = ["captured_now"]


def captured_now(
    snapshot: Snapshot, memory: Memory, decimals: int | None = None
) -> tuple[Captured | None, bool]:
    """The newest captured hold, and whether a hold that was captured goes on.

    A hold is captured when it has lasted :data:`tui.view.hold.HOLD_S` and a rated
    output is known. It has to be let go of before another one is captured.

    Args:
        snapshot: the state of the followed recording.
        memory: what the last view handed on.
        decimals: those of the main value.
    """
    held = held_s(snapshot.rows, snapshot.t_s)
    if held == 0.0:
        return memory.captured, False
    if memory.holding or held < HOLD_S or not known(snapshot.result.rated_voltage_V):
        return memory.captured, memory.holding
    number = 1 if memory.captured is None else memory.captured.number + 1
    words = f"Hold captured at {clock(snapshot.t_s)}: {captured_words(snapshot, decimals)}"
    return Captured(number, words), True
