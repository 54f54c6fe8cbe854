"""What a disk did during a run that is over: from when to when, and whether anything was lost by it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from daq.recording.entries import CloseEntry, EventEntry
from daq.recording.moved import moved_from

__all__ = ["told_of_the_disk"]

_SLOW = "The disk has taken nothing"
_SLOW_NS = 2_000_000_000
"""A disk that only keeps its writer waiting is told of when it has done so for this long."""
_AGAIN = ("The disk takes the recording again.", "has been put back, whole.")
"""How the sentences end by which a capture tells that its disk does take data again."""
_WHAT = {
    "The disk is full": "The disk was full",
    _SLOW: "The disk took nothing",
    "has reached the greatest size": "The recording had the greatest size that is allowed for a file",
    "can't be written": "The recording could not be written",
    "can't be put back": "The recording was removed or changed by something else and had no place",
}
_BEFORE_NS = 1_000_000_000
"""What was lost may be older than the word of the disk by what waited then."""


def told_of_the_disk(events: Sequence[EventEntry], close: CloseEntry | None) -> dict[int, str]:
    """Sentences in the past for the disk's troubles that are over.

    Args:
        events: of the recording, in their order.
        close: its closing line; where there is one, everything before it has been taken.

    Returns:
        By place among the events. A trouble that lasted to the end of a recording without a closing line is not
        among them: its own words still hold.
    """
    losses_ns = sorted(e.t_ns for e in events if e.kind == "loss" and e.instrument is None)
    over_ns = close.t_ns if close is not None else None
    told = {}
    for place in range(len(events) - 1, -1, -1):
        event = events[place]
        if (event.kind == "note" and event.text.endswith(_AGAIN)) or moved_from(event.text) is not None:
            over_ns = event.t_ns
        what = _what(event) if event.kind == "stall" else None
        if what is None or over_ns is None:
            continue
        begin_ns = max(0, event.t_ns - _SLOW_NS) if event.text.startswith(_SLOW) else event.t_ns
        kept = "" if _any_within(losses_ns, begin_ns - _BEFORE_NS, over_ns) else "; nothing was lost"
        told[place] = f"{what} from {_clock(begin_ns)} to {_clock(over_ns)}{kept}."
    return told


def _what(event: EventEntry) -> str | None:
    return next((past for words, past in _WHAT.items() if words in event.text), None)


def _any_within(sorted_ns: Sequence[int], begin_ns: int, end_ns: int) -> bool:
    return bisect_left(sorted_ns, begin_ns) < bisect_right(sorted_ns, end_ns)


def _clock(t_ns: int) -> str:
    minutes, seconds = divmod(t_ns // 1_000_000_000, 60)
    hours, within = divmod(minutes, 60)
    return f"{hours}:{within:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"
