"""Long arrays taken part by part, so that what is worked out on the way stays in the processor's cache."""

from __future__ import annotations

from collections.abc import Iterator

__all__ = ["PART", "parts"]

PART = 1 << 16
"""Elements at a time."""


def parts(count: int) -> Iterator[slice]:
    """Slices of ``PART`` elements that cover so many; the last one may be shorter."""
    for start in range(0, count, PART):
        yield slice(start, min(start + PART, count))
