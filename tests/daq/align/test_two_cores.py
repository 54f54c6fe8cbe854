"""Work in two threads gives what it gives in one."""

from __future__ import annotations

import threading

import numpy as np
import pytest

from daq.align.parts import LONG, PART
from daq.align.two_cores import both, each_part


@pytest.mark.parametrize("readings", [10, LONG + 1])
def test_both_give_what_they_give(readings: int) -> None:
    assert both(lambda: "volts", lambda: 5, readings=readings) == ("volts", 5)


def test_very_many_readings_are_worked_on_at_once() -> None:
    second_began = threading.Event()
    # In one thread the first would wait here in vain for the second.
    assert both(lambda: second_began.wait(5.0), second_began.set, readings=LONG + 1) == (True, None)


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
