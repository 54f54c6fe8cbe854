"""Unwraps a running count and its 64 s clock into revolutions and seconds, or says that it has to start afresh."""

from __future__ import annotations

from typing import NamedTuple

from drivers.gatt.csc import Event
from drivers.wrapping import steps_forward

__all__ = ["LATENESS_S", "LONGEST_GAP_S", "Turned", "UnwrappedCount"]

TICKS_PER_S = 1024
_TICK_BITS = 16
LATENESS_S = 4.0
"""How much later than its event a packet may come, radio and batching included."""
LONGEST_GAP_S = (1 << _TICK_BITS) / TICKS_PER_S - LATENESS_S
"""Beyond this, between two events, the clock may have gone round unseen: no rate can be told."""


class Turned(NamedTuple):
    """A new event, unwrapped."""

    counted: int
    """Counted since the start of the piece."""
    device_s: float
    """By the instrument's clock, since the start of the piece."""
    afresh: bool
    """A new piece starts here: nothing may be derived across it and what came before."""


class UnwrappedCount:
    """Follows one counter.

    A piece goes on as long as the clock can't have gone round unseen and the
    count rises as something that turns does. Else a new piece starts, with the
    count at 0::

        arrival    0 s   1 s   2 s          70 s   71 s
        count      0     60    120          0      59
                   '---- piece ---'         '- the next

    Args:
        count_bits: where the count wraps.
        most_per_s: nothing counts faster; a count that seems to was set back.
    """

    def __init__(self, count_bits: int, most_per_s: float) -> None:
        self._count_bits = count_bits
        self._most_per_s = most_per_s
        self._last: Event | None = None
        self._last_ns = 0
        self._count = 0
        self._ticks = 0

    def take(self, event: Event, t_ns: int) -> Turned | None:
        """Take an event from a packet that arrived at ``t_ns``; None where it is the one before once more."""
        last = self._last
        if last is None:
            return self._start(event, t_ns, afresh=False)
        if event == last:
            return None
        ticks = steps_forward(last.ticks, event.ticks, _TICK_BITS)
        count = steps_forward(last.counted, event.counted, self._count_bits)
        if not self._plausible(count, ticks / TICKS_PER_S, (t_ns - self._last_ns) / 1e9):
            return self._start(event, t_ns, afresh=True)
        self._count += count
        self._ticks += ticks
        self._last, self._last_ns = event, t_ns
        return Turned(self._count, self._ticks / TICKS_PER_S, False)

    def forget(self) -> None:
        """The next event starts afresh."""
        self._last = None

    def _plausible(self, count: int, elapsed_s: float, arrived_s: float) -> bool:
        return (
            arrived_s <= LONGEST_GAP_S
            and elapsed_s <= arrived_s + LATENESS_S
            and count <= self._most_per_s * elapsed_s
        )

    def _start(self, event: Event, t_ns: int, *, afresh: bool) -> Turned:
        self._last, self._last_ns = event, t_ns
        self._count = self._ticks = 0
        return Turned(0, 0.0, afresh)
