"""How far work has come, told from 0 to 1 to whoever asked for it."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["one_of", "unheard"]


def unheard(part: float) -> None:
    """Nobody asked."""


def one_of(progress: Callable[[float], None], place: int, count: int) -> Callable[[float], None]:
    """What one of several equal pieces of work tells of itself, as a part of the whole.

    Args:
        progress: told of the whole.
        place: which piece it is, from 0.
        count: how many there are.
    """
    return lambda part: progress((place + part) / count)
