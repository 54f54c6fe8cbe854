"""Counters that start again from 0 when their bits are full."""

from __future__ import annotations

__all__ = ["steps_forward"]


def steps_forward(before: int, after: int, bits: int) -> int:
    """How far a counter of ``bits`` bits went from one reading to the next, if it went forward once round at most."""
    return (after - before) % (1 << bits)
