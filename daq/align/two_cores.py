"""Work on very many readings in two threads: numpy leaves the interpreter to others while it is at its arrays.

A short run stays in one thread, where starting another would cost more than it
saves. What comes out is the same either way: the pieces of work share nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from daq.align.parts import LONG, parts

__all__ = ["both", "each_part"]

_A = TypeVar("_A")
_B = TypeVar("_B")


def both(first: Callable[[], _A], second: Callable[[], _B], *, readings: int) -> tuple[_A, _B]:
    """Do two pieces of work.

    Args:
        first: is done here.
        second: is done beside it where there are very many readings.
        readings: over how many the work goes.

    Returns:
        What they give. What either raises is raised, that of the first before that of the second.
    """
    if readings <= LONG:
        return first(), second()
    with ThreadPoolExecutor(1) as pool:
        beside = pool.submit(second)
        return first(), beside.result()


def each_part(count: int, work: Callable[[slice], None]) -> None:
    """Do a piece of work for every part of so many elements, in any order.

    Args:
        count: elements.
        work: is given a part; writes to that part of its arrays alone.
    """
    if count <= LONG:
        for part in parts(count):
            work(part)
        return
    with ThreadPoolExecutor(2) as pool:
        for _ in pool.map(work, parts(count)):
            pass
