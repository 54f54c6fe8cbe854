"""Recordings in short, made by hand."""

from __future__ import annotations

from pathlib import Path

import msgspec

from tui.shelf.folder import Found
from tui.shelf.summary import Summary

BASE = Summary(
    path="a.jsonl",
    state="closed",
    started_s=1_773_478_800.0,
    machine="Sprayer cart of an invented plant nursery",
    machine_name="nursery-sprayer",
    source="run",
    length_s=45.2,
    readings=538,
    verdict="pass",
    rated_speed_rpm=3600.0,
    rated_voltage_V=24.612,
    expanded_uncertainty_V=0.312,
    minimum_V=20.0,
    reasons=["24.61 V ± 0.31 V at 3600 rpm meets the limit of 20.00 V."],
)


def summary(name: str = "a.jsonl", /, **changes: object) -> Summary:
    """A good run with changes."""
    return msgspec.structs.replace(BASE, path=name, **changes)


def found(*names: str) -> list[Found]:
    """Files, the newest first."""
    return [Found(Path(name), 1_773_478_800 * 10**9 - n * 60 * 10**9, 1000) for n, name in enumerate(names)]


FOUND = found(
    "after.jsonl", "before.jsonl", "cut.jsonl", "changed.jsonl", "now.jsonl", "diary.jsonl", "new.jsonl"
)
SUMMARIES = {
    Path(one.path): one
    for one in (
        summary("after.jsonl"),
        summary(
            "before.jsonl",
            started_s=1_773_475_200.0,
            verdict="fail",
            rated_voltage_V=17.31,
            expanded_uncertainty_V=0.26,
        ),
        summary(
            "cut.jsonl",
            state="cut_off",
            verdict="too_close",
            rated_voltage_V=20.11,
            problems=["The recording was cut off: it has no closing line."],
        ),
        summary(
            "changed.jsonl", state="changed", problems=["The recording was changed after it was closed."]
        ),
        summary("now.jsonl", state="going_on", verdict="not_enough_data", rated_voltage_V=None, reasons=[]),
        Summary(path="diary.jsonl", state="unreadable", problems=["diary.jsonl is no spinvolt recording."]),
    )
}


class StillSummaries:
    """Summaries that are there at once."""

    def __init__(self, *known: Summary) -> None:
        self.wanted: list[Path] = []
        self.closed = False
        self._known = list(known)

    def want(self, path: Path) -> None:
        self.wanted.append(path)

    def take(self) -> list[Summary]:
        taken, self._known = self._known, []
        return taken

    def busy(self) -> tuple[int, str, float]:
        return 1, "new.jsonl", 0.4

    def close(self) -> None:
        self.closed = True
