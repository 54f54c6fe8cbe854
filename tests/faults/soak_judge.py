"""Holds what a recording has of the adapters against what they sent, as it grows: each line is looked at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from daq.model.reading import Quality
from tests.faults.adapters import PERIOD_S, Adapter, Pull

__all__ = ["Judge"]

_SPOILT = 2
"""Numbers that one disturbance can cost: the one that was cut, and the one that was glued to it."""
_BACK_FOR_GOOD = 3
_FAULTS_KEPT = 100


class Judge:
    """Reads on where it stopped.

    Attributes:
        rows: of all qualities so far.
        readings: good ones so far.
        false: values never sent, or sent by another instrument.
        doubled: values that had been there, or out of order.
        missing: numbers at whose hole nothing is told, or more of them than what is told can have cost.
        spoilt: numbers missing at a reading that says of itself that it is none, mostly a bad frame.
        slowest_s: the longest from a plug put back to its first reading.
        events: how often each kind of event was told; a link that is back counts as "connected".
        faults: the first of what was found wrong, in words.
    """

    def __init__(self, path: Path, adapters: Sequence[Adapter]) -> None:
        self.rows = self.readings = self.false = self.doubled = self.missing = self.spoilt = 0
        self.slowest_s = 0.0
        self.events: Counter[str] = Counter()
        self.faults: list[str] = []
        self._path = path
        self._offset = 0
        self._tracks = [_Track(self, adapter) for adapter in adapters]

    def look(self) -> bool:
        """Judge all whole lines that have come since the last look; True, so that it can stand in a condition."""
        with self._path.open("rb") as file:
            file.seek(self._offset)
            data = file.read()
        data = data[: data.rfind(b"\n") + 1]
        self._offset += len(data)
        for line in data.splitlines():
            entry = msgspec.json.decode(line)
            if isinstance(entry, dict):
                self._take_event(entry)
            else:
                self.rows += 1
                self._tracks[entry[0]].take(entry[2], Quality(entry[3]))
        return True

    def back_for_good(self, owner: int, since: int = 0) -> bool:
        """Whether that instrument has been read for a while since it was last put back, or since a count of it."""
        track = self._tracks[owner]
        return track.newest >= max(track.back_from, since) + _BACK_FOR_GOOD

    def tell(self, fault: str) -> None:
        """Keep a fault's words."""
        if len(self.faults) < _FAULTS_KEPT:
            self.faults.append(f"before byte {self._offset}: {fault}")

    def _take_event(self, entry: dict[str, Any]) -> None:
        if entry["entry"] == "event":
            kind = entry["kind"]
            if " is connected again" in entry["text"]:
                kind = "connected"
            elif " has come back as " in entry["text"]:
                kind = "renamed"
            self.events[kind] += 1


class _Track:
    """One instrument's numbers."""

    def __init__(self, judge: Judge, adapter: Adapter) -> None:
        self.newest = -1
        self._judge = judge
        self._adapter = adapter
        self._pulls_seen = 0
        self._bad = self._lost = False

    @property
    def back_from(self) -> int:
        """The count that was next when it was last put back."""
        pulls = self._adapter.pulls
        return pulls[-1].back if pulls else 0

    def take(self, value: float | None, quality: Quality) -> None:
        """Judge one reading."""
        self._lost |= quality is Quality.LOST
        self._bad |= quality not in (Quality.GOOD, Quality.LOST)
        if value is None or quality is not Quality.GOOD:
            return
        count = self._adapter.count_of(value)
        if count is None or not self._sent(count):
            self._judge.false += 1
            self._judge.tell(f"instrument {self._adapter.owner} never sent {value}")
        elif count <= self.newest:
            self._judge.doubled += 1
            self._judge.tell(f"instrument {self._adapter.owner}: {count} came after {self.newest}")
        else:
            self._judge.readings += 1
            if self.newest >= 0:
                self._explain(count)
            self.newest, self._bad, self._lost = count, False, False

    def _sent(self, count: int) -> bool:
        pulls = self._adapter.pulls[self._pulls_seen :]
        out = any(pull.gone <= count and (count < pull.back or pull.back < 0) for pull in pulls)
        return count < self._adapter.count and not out

    def _explain(self, count: int) -> None:
        """The hole between the newest count and this one."""
        pulls = self._pulls_before(count)
        hole = (pulls[0].gone if pulls else count) - self.newest - 1
        told = _SPOILT if self._bad else 0
        if pulls:
            self._judge.slowest_s = max(self._judge.slowest_s, (count - pulls[-1].back) * PERIOD_S)
            told += pulls[0].unread if self._lost else -1
        elif self._lost:
            told = hole
        self._judge.spoilt += min(hole, _SPOILT) if self._bad else 0
        if hole > told:
            self._judge.missing += hole - told
            self._judge.tell(
                f"instrument {self._adapter.owner}: {hole} missing after {self.newest}, spoilt {self._bad}, "
                f"loss {self._lost}, pulled {pulls}"
            )

    def _pulls_before(self, count: int) -> list[Pull]:
        begin = self._pulls_seen
        pulls = self._adapter.pulls
        while self._pulls_seen < len(pulls) and 0 <= pulls[self._pulls_seen].back <= count:
            self._pulls_seen += 1
        return pulls[begin : self._pulls_seen]
