"""How far recordings have been read."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["read_words"]


def read_words(parts: Sequence[float]) -> str:
    """What part of all was read, such as "42 % read"; each part from 0 to 1."""
    return f"{100 * sum(parts) / len(parts):.0f} % read"
