"""What happened to a recording that a person must see, also where the list of what happened has no room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from daq.recording.moved import moved_from
from tui.text import clean
from tui.view.numbers import clock

if TYPE_CHECKING:
    from daq.recording.entries import EventEntry

__all__ = ["TOLD_FOR_S", "to_be_seen"]

TOLD_FOR_S = 60.0
"""A person at an engine is not always looking."""
_LONGEST = 480


def to_be_seen(events: Sequence[EventEntry]) -> Iterator[str]:
    """Sentences for the events by which a recording lies in another file now, or lacks something.

    What an instrument lost is counted in its own health row.
    """
    for event in events:
        if moved_from(event.text) is not None or (event.kind == "loss" and event.instrument is None):
            yield f"At {clock(event.t_ns / 1e9)}: {clean(event.text, _LONGEST)}"
