"""How far work has come, told from 0 to 1 to whoever asked for it."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["one_of", "stretch", "unheard"]


def unheard(part: float) -> None:
    """Nobody asked."""


def one_of(progress: Callable[[float], None], place: int, count: int) -> Callable[[float], None]:
    """What one of several equal pieces of work tells of itself, as a part of the whole.

    Args:
        progress: told of the whole.
        place: which piece it is, from 0.
        count: how many there are.
    """
    return stretch(progress, place / count, (place + 1) / count)


def stretch(progress: Callable[[float], None], begin: float, end: float) -> Callable[[float], None]:
    """What a piece of work tells of itself, as a part of the whole.

    Args:
        progress: told of the whole.
        begin: where the piece begins within the whole, from 0 to 1.
        end: where it ends.
    """
    return lambda part: progress(begin + (end - begin) * part)
