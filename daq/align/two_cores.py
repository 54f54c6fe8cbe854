"""Work on very many readings in two threads: numpy leaves the interpreter to others while it is at its arrays.

A short run stays in one thread, where starting another would cost more than it
saves. What comes out is the same either way: the pieces of work share nothing.

Who looks on while a run is recorded says so with :func:`one_core`: on two cores it would
take both, and the capture's stamps came some 20 ms late at 10,000 readings a second.
"""

from __future__ import annotations

import contextlib
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextvars import ContextVar
from typing import TypeVar

from daq.align.parts import LONG, parts

__all__ = ["both", "each_part", "one_behind", "one_core"]

_A = TypeVar("_A")
_B = TypeVar("_B")
_MOST_WAITING = 4
_one_core: ContextVar[bool] = ContextVar("one core", default=False)


@contextlib.contextmanager
def one_core() -> Iterator[None]:
    """Leave the other cores to others, whatever the number of readings, for what is done within."""
    before = _one_core.set(True)
    try:
        yield
    finally:
        _one_core.reset(before)


def _in_one_thread(readings: int) -> bool:
    return readings <= LONG or _one_core.get()


@contextlib.contextmanager
def _threads(number: int) -> Iterator[ThreadPoolExecutor]:
    """Threads that are waited for at the end, but not by whoever has pressed Ctrl-C."""
    pool = ThreadPoolExecutor(number)
    wait = True
    try:
        yield pool
    except KeyboardInterrupt:
        wait = False
        raise
    finally:
        pool.shutdown(wait=wait, cancel_futures=not wait)


def both(first: Callable[[], _A], second: Callable[[], _B], *, readings: int) -> tuple[_A, _B]:
    """Do two pieces of work.

    Args:
        first: is done here.
        second: is done beside it where there are very many readings.
        readings: over how many the work goes.

    Returns:
        What they give. What either raises is raised, that of the first before that of the second.
    """
    if _in_one_thread(readings):
        return first(), second()
    with _threads(1) as pool:
        beside = pool.submit(second)
        return first(), beside.result()


def each_part(count: int, work: Callable[[slice], None]) -> None:
    """Do a piece of work for every part of so many elements, in any order.

    Args:
        count: elements.
        work: is given a part; writes to that part of its arrays alone.
    """
    if _in_one_thread(count):
        for part in parts(count):
            work(part)
        return
    with _threads(2) as pool:
        for _ in pool.map(work, parts(count)):
            pass


def one_behind(items: Iterator[_A], work: Callable[[_A], _B], *, readings: int) -> Iterator[_B]:
    """Work on items in order, beside whoever makes them.

    Args:
        items: they are made here.
        work: is done in another thread where there are very many readings; what it is given must not change.
        readings: over how many all of it goes.

    Yields:
        What the work gives, in the order of the items, at most a few of them behind.
    """
    if _in_one_thread(readings):
        yield from map(work, items)
        return
    waiting: deque[Future[_B]] = deque()
    with _threads(1) as pool:
        for item in items:
            waiting.append(pool.submit(work, item))
            if len(waiting) > _MOST_WAITING:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
