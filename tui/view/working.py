"""How far the work on several recordings has come."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["done_words"]


def done_words(parts: Sequence[float]) -> str:
    """What part of all is done, such as "42 % done"; each part from 0 to 1."""
    return f"{100 * sum(parts) / len(parts):.0f} % done"
