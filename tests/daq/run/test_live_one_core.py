"""A run that is followed while it is recorded is analysed on one core: the other is the capture's."""

from __future__ import annotations

import threading

from daq.align.parts import LONG
from daq.align.two_cores import both
from daq.recording.batch import Batch, empty_batch
from daq.run.live import LiveRun


class _Source:
    """A source that works at each look as an analysis of very many readings does, and notes on which threads."""

    finished = False
    problems: list[str] = []

    def __init__(self) -> None:
        self.threads: set[int] = set()

    def poll(self) -> Batch:
        def note() -> None:
            self.threads.add(threading.get_ident())

        both(note, note, readings=LONG + 1)
        return empty_batch()


def test_what_an_update_does_is_done_in_its_own_thread() -> None:
    source = _Source()
    LiveRun(source).update()
    assert source.threads == {threading.get_ident()}
