"""Long arrays taken part by part, so that what is worked out on the way stays in the processor's cache.

And of very many elements so many that stand for all: one at random out of each
of as many blocks of equal length. Not every n-th, which an engine that hunts
could keep step with; and always the same ones, so that a result can be had again.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

__all__ = ["LONG", "PART", "parts", "spread"]

PART = 1 << 16
"""Elements at a time."""
LONG = 300_000
"""Up to so many elements all are taken."""
_SPREAD = 100_000
"""So many stand for more: a median of them scatters by 0.4 % of the scatter of one."""


def parts(count: int) -> Iterator[slice]:
    """Slices of ``PART`` elements that cover so many; the last one may be shorter."""
    for start in range(0, count, PART):
        yield slice(start, min(start + PART, count))


def spread(count: int) -> slice | NDArray[np.int64]:
    """Places that stand for so many elements, rising; a slice of all up to ``LONG`` of them."""
    if count <= LONG:
        return slice(0, count)
    edges = np.linspace(0, count, _SPREAD + 1).astype(np.int64)
    within = np.random.default_rng(1).random(_SPREAD)
    return np.asarray(edges[:-1] + (within * np.diff(edges)).astype(np.int64))
