"""Counted words: "1 gap", "2 gaps", "once", "3 times"."""

from __future__ import annotations

__all__ = ["counted", "times"]


def counted(count: float, one: str, many: str = "", *, signed: bool = False) -> str:
    """A number with its noun in the form that goes with it.

    Args:
        count: how many; a whole number is written without a point.
        one: the noun for one, such as "gap", with whatever else changes with it ("row lies").
        many: for all other numbers; "": ``one`` with an s.
        signed: write a plus.
    """
    sign = "+" if signed else ""
    return f"{count:{sign}.15g} {one if abs(count) == 1 else many or f'{one}s'}"


def times(count: int) -> str:
    """How often: "once", or "3 times"."""
    return "once" if count == 1 else f"{count} times"
