"""Work in two threads gives what it gives in one."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import numpy as np
import pytest

from daq.align.parts import LONG, PART
from daq.align.two_cores import both, each_part, one_behind, one_core


@pytest.mark.parametrize("readings", [10, LONG + 1])
def test_both_give_what_they_give(readings: int) -> None:
    assert both(lambda: "volts", lambda: 5, readings=readings) == ("volts", 5)


def test_very_many_readings_are_worked_on_at_once() -> None:
    second_began = threading.Event()
    # In one thread the first would wait here in vain for the second.
    assert both(lambda: second_began.wait(30.0), second_began.set, readings=LONG + 1) == (True, None)


@pytest.mark.parametrize("readings", [10, LONG + 1])
def test_what_either_raises_is_raised(readings: int) -> None:
    def refuse() -> None:
        raise ValueError("no such reading")

    with pytest.raises(ValueError, match="no such reading"):
        both(refuse, lambda: None, readings=readings)
    with pytest.raises(ValueError, match="no such reading"):
        both(lambda: None, refuse, readings=readings)


@pytest.mark.parametrize("count", [0, 5, LONG, LONG + PART + 3])
def test_every_part_is_done_once(count: int) -> None:
    done = np.zeros(count, np.int64)

    def add(part: slice) -> None:
        done[part] += 1

    each_part(count, add)
    assert bool((done == 1).all())


def test_a_part_that_fails_is_told() -> None:
    def refuse(part: slice) -> None:
        if part.start:
            raise ValueError(f"from {part.start}")

    with pytest.raises(ValueError, match=f"from {PART}"):
        each_part(LONG + 1, refuse)


@pytest.mark.parametrize("readings", [10, LONG + 1])
def test_items_come_back_in_order(readings: int) -> None:
    assert list(one_behind(iter(range(30)), lambda i: i * i, readings=readings)) == [i * i for i in range(30)]
    assert list(one_behind(iter(()), lambda i: i, readings=readings)) == []


def test_an_item_is_worked_on_while_others_are_made() -> None:
    worked, seen = threading.Event(), []

    def items() -> Iterator[int]:
        yield 1
        seen.append(worked.wait(30.0))  # in one thread it would wait in vain
        yield 2

    def work(item: int) -> int:
        worked.set()
        return item

    assert list(one_behind(items(), work, readings=LONG + 1)) == [1, 2]
    assert seen == [True]


def test_makers_are_never_far_ahead() -> None:
    made: list[int] = []

    def make(item: int) -> int:
        made.append(item)
        return item

    ahead = [
        len(made) - taken
        for taken, _ in enumerate(one_behind(map(make, range(40)), lambda i: i, readings=LONG + 1), 1)
    ]
    assert len(ahead) == 40
    assert max(ahead) <= 5


@pytest.mark.parametrize("readings", [10, LONG + 1])
def test_work_that_fails_on_an_item_is_told(readings: int) -> None:
    def refuse(item: int) -> int:
        if item == 3:
            raise ValueError("third")
        return item

    with pytest.raises(ValueError, match="third"):
        list(one_behind(iter(range(9)), refuse, readings=readings))


def test_who_looks_on_takes_one_core_however_many_the_readings() -> None:
    here, many, seen = threading.get_ident(), LONG + 1, []

    def note(_: object = None) -> None:
        seen.append(threading.get_ident())

    def work() -> set[int]:
        seen.clear()
        both(note, note, readings=many)
        each_part(many, note)
        list(one_behind(iter((1, 2)), note, readings=many))
        return set(seen)

    def fail() -> None:
        with one_core():
            assert work() == {here}
            raise ValueError("enough")

    with pytest.raises(ValueError, match="enough"):
        fail()
    assert len(work()) > 1, "afterwards both are taken again"
