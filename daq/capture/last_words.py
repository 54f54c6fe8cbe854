"""How a capture ended that did not say so itself, for the person who recorded with it."""

from __future__ import annotations

import signal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.capture.held import HeldBack

__all__ = ["how_it_ended"]

_FROM_OUTSIDE = frozenset(
    getattr(signal, name) for name in ("SIGKILL", "SIGTERM", "SIGINT", "SIGHUP") if hasattr(signal, name)
)


def how_it_ended(status: int, words: str, held: HeldBack) -> str:
    """The sentences about it.

    Args:
        status: its exit status; below 0 the number of the signal that ended it.
        words: what it said on standard error.
        held: what it held in memory at its end.
    """
    who = "The part of the program that records"
    if -status in _FROM_OUTSIDE:
        how = f"{who} was ended from outside (signal {-status})"
    elif status < 0:
        how = f"{who} met a fault of its own (signal {-status})"
    else:
        how = f"{who} ended and did not say why (exit status {status})"
    told = f"{how}: {words}" if words else how
    return f"{told.rstrip('.')}.{_lost(held)}"


def _lost(held: HeldBack) -> str:
    if not held.behind:
        return ""
    for_s = f" for at least {held.for_s:.0f} s" if held.for_s >= 1.0 else ""
    return (
        f" The disk had taken nothing{for_s} by then: the readings that were held in memory alone are lost."
    )
