"""Ctrl-C while two threads are at work: who pressed it does not wait for the other."""

from __future__ import annotations

import threading

import pytest

from daq.align.parts import LONG
from daq.align.two_cores import both


def test_an_interrupt_does_not_wait_for_the_other_thread() -> None:
    let_go = threading.Event()
    done = threading.Event()

    def slow() -> None:
        if let_go.wait(20.0):
            done.set()

    def interrupted() -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        both(interrupted, slow, readings=LONG + 1)
    assert not done.is_set()
    let_go.set()
    assert done.wait(20.0)


def test_any_other_error_does() -> None:
    done = threading.Event()

    def broken() -> None:
        raise ValueError

    with pytest.raises(ValueError, match="^$"):
        both(broken, done.set, readings=LONG + 1)
    assert done.is_set()
