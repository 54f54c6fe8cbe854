"""What the recordings screen shows: a row for each recording, and the chosen one in full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from daq.model.counted import counted
from daq.verdict.result import unknown_errors
from tui.text import clean
from tui.view.numbers import (
    clock,
    fixed,
    known,
    own_error_unknown,
    plus_minus,
    screen_decimals,
    with_uncertainty,
)
from tui.view.state import Tone
from tui.view.verdict import TONES, shape_of, words_of

if TYPE_CHECKING:
    from tui.shelf.folder import Found
    from tui.shelf.summary import Summary

__all__ = [
    "Choice",
    "Paragraph",
    "ShelfRow",
    "ShelfView",
    "listing_line",
    "marked_pair",
    "shelf_view",
    "toggled",
]

_STATES: dict[str, tuple[str, str, Tone]] = {
    "closed": ("closed", "●", "good"),
    "cut_off": ("cut off", "◌", "bad"),
    "changed": ("changed", "✗", "bad"),
    "damaged": ("damaged", "✗", "bad"),
    "going_on": ("going on", "▶", "good"),
    "unreadable": ("no run", "✗", "bad"),
}
_STATE_WORDS = {
    "cut_off": "It was cut off: all its whole lines are there, what came after them is missing.",
    "changed": "It was changed after it was closed.",
    "damaged": "It was closed, but not all of it can be read.",
    "going_on": "It is being recorded at this moment.",
}
_MARKS = ("before", "after")

Paragraph = tuple[str, Tone | None]


class Choice(NamedTuple):
    """What a person has chosen: the row under the cursor, and at most two marked for comparing."""

    selected: Path | None = None
    marked: tuple[Path, ...] = ()


@dataclass(frozen=True)
class ShelfRow:
    """One recording."""

    path: Path
    mark: str
    """"before", "after" or ""."""
    when: str
    machine: str
    machine_name: str
    """Short, for where the title has no room; "" where there is none."""
    length: str
    result: str
    shape: str
    verdict: str
    tone: Tone
    state_shape: str
    state: str
    state_tone: Tone


@dataclass(frozen=True)
class ShelfView:
    """Everything the recordings screen shows."""

    heading: str
    status: str
    rows: tuple[ShelfRow, ...]
    selected: int
    """Index of the row under the cursor; 0 where there is none."""
    detail: tuple[Paragraph, ...]


def toggled(choice: Choice) -> Choice:
    """Mark the selected one, or take its mark away; a third mark takes the place of the first."""
    if choice.selected is None:
        return choice
    if choice.selected in choice.marked:
        return choice._replace(marked=tuple(path for path in choice.marked if path != choice.selected))
    return choice._replace(marked=(*choice.marked[-1:], choice.selected))


def marked_pair(choice: Choice, found: Sequence[Found]) -> tuple[Path, Path] | None:
    """The two to compare, the older first: both marked ones, or the one and the selected one."""
    wanted = set(choice.marked)
    if len(wanted) == 1 and choice.selected is not None:
        wanted.add(choice.selected)
    pair = [one.path for one in found if one.path in wanted]
    return (pair[1], pair[0]) if len(pair) == 2 else None


def shelf_view(
    folder: Path,
    found: Sequence[Found],
    summaries: Mapping[Path, Summary],
    choice: Choice,
    busy: tuple[int, str, float],
    *,
    zone: tzinfo | None = None,
) -> ShelfView:
    """Work out everything the recordings screen shows.

    Args:
        folder: where the recordings are.
        found: what is in it, the newest first.
        summaries: what is known of them so far.
        choice: what the person has chosen.
        busy: how many are still to be worked out, the one being read, and what part of it was.
        zone: for the times; None: the computer's own.
    """
    marks = _marks(choice, found)
    rows = tuple(_row(one, summaries.get(one.path), marks.get(one.path, ""), zone) for one in found)
    selected = next((index for index, row in enumerate(rows) if row.path == choice.selected), 0)
    return ShelfView(
        heading=f"recordings · {clean(str(folder))}",
        status=_status(len(rows), busy),
        rows=rows,
        selected=selected,
        detail=_detail(found[selected], summaries.get(found[selected].path)) if found else _nothing(folder),
    )


def _marks(choice: Choice, found: Sequence[Found]) -> dict[Path, str]:
    marked = [one.path for one in reversed(found) if one.path in choice.marked]
    if len(marked) == 1:
        return {marked[0]: "marked"}
    return dict(zip(marked, _MARKS, strict=False))


def _status(count: int, busy: tuple[int, str, float]) -> str:
    left, _, part = busy
    total = counted(count, "recording")
    return total if not left else f"working out {100 * part:3.0f} %, {left} to go"


def _row(found: Found, summary: Summary | None, mark: str, zone: tzinfo | None) -> ShelfRow:
    if summary is None:
        when = _when(found.modified_ns * 1e-9, zone)
        # The file's name stands in for the machine's as long as that is not known; where it has no room, nothing.
        name = clean(found.path.stem, 60)
        return ShelfRow(found.path, mark, when, name, "…", "", "", "…", "", "quiet", "…", "", "quiet")
    words, state_shape, state_tone = _STATES[summary.state]
    verdict, ended = summary.verdict, _ended(summary)
    return ShelfRow(
        path=found.path,
        mark=mark,
        when=_began(found, summary, zone),
        machine=clean(summary.machine, 80) or clean(found.path.stem, 60),
        machine_name=clean(summary.machine_name, 40),
        length="" if summary.length_s is None else clock(summary.length_s),
        result=_result(summary),
        shape=shape_of(verdict, ended=ended) if verdict else "",
        verdict=words_of(verdict, ended=ended)[0] if verdict else "",
        tone=TONES[verdict] if verdict else "quiet",
        state_shape=state_shape,
        state=words,
        state_tone=state_tone,
    )


def _began(found: Found, summary: Summary, zone: tzinfo | None) -> str:
    """When a run began; of a file that is no recording, when that was written."""
    if summary.started_s is not None:
        return _when(summary.started_s, zone)
    return _when(found.modified_ns * 1e-9, zone) if summary.state == "unreadable" else "no date"


def _ended(summary: Summary) -> bool:
    """Whether there is nothing to wait for any more."""
    return summary.state != "going_on"


def _when(time_s: float, zone: tzinfo | None) -> str:
    return f"{datetime.fromtimestamp(time_s, UTC).astimezone(zone):%Y-%m-%d %H:%M}"


def _result(summary: Summary) -> str:
    value, expanded = summary.rated_voltage_V, summary.expanded_uncertainty_V
    if value is None or not known(value):
        return ""
    decimals = screen_decimals(expanded, None)
    text = f"{fixed(value, decimals)} V"
    if expanded is None:
        return text
    # A sign in place of the words "at least", for which a list has no room.
    least = "± ≥" if unknown_errors(summary.reasons) else "± "
    return f"{text} {plus_minus(expanded).replace('± ', least)}"


def _detail(found: Found, summary: Summary | None) -> tuple[Paragraph, ...]:
    name: Paragraph = (clean(found.path.name), None)
    if summary is None:
        return (name, ("Being worked out ...", "quiet"))
    if summary.state == "unreadable":
        return (name, *((clean(problem, 500), "bad") for problem in summary.problems))
    facts = [clean(summary.machine) or "no machine card", counted(summary.readings, "reading")]
    facts += [f"from {summary.source}"] if summary.source else []
    told: list[Paragraph] = [(f"{name[0]}: {', '.join(facts)}", None), _verdict(summary)]
    if summary.state in _STATE_WORDS:
        told.append((_STATE_WORDS[summary.state], _STATES[summary.state][2]))
    told += [(clean(reason, 500), "quiet") for reason in summary.reasons]
    told += [(clean(p, 500), "doubt") for p in summary.problems if p not in summary.reasons]
    return tuple(told)


def _verdict(summary: Summary) -> Paragraph:
    verdict = summary.verdict or "not_enough_data"
    ended = _ended(summary)
    words = f"{shape_of(verdict, ended=ended)} {words_of(verdict, ended=ended)[1]}"
    value = summary.rated_voltage_V
    if value is None or not known(value):
        return f"{words}; no rated output can be stated", TONES[verdict]
    speed = "" if summary.rated_speed_rpm is None else f" at {summary.rated_speed_rpm:.0f} rpm"
    limit = "" if summary.minimum_V is None else f", limit at least {fixed(summary.minimum_V, 1)} V"
    unknown = unknown_errors(summary.reasons)
    output = with_uncertainty(value, summary.expanded_uncertainty_V, "V", least=bool(unknown))
    output += f" ({own_error_unknown(unknown)})" if unknown else ""
    return f"{words}: rated output {output}{speed}{limit}", TONES[verdict]


def _nothing(folder: Path) -> tuple[Paragraph, ...]:
    return (
        (f"No recordings are in {clean(str(folder))} yet.", None),
        (
            "`spinvolt demo` makes one on a virtual engine; `spinvolt run` makes one with your instruments.",
            "quiet",
        ),
    )


def listing_line(found: Found, summary: Summary, *, zone: tzinfo | None = None) -> str:
    """A recording in one line of words, for a screen reader or a log: the verdict before the name."""
    row = _row(found, summary, "", zone)
    if summary.state == "unreadable":
        return f"{clean(found.path.name)}: unreadable. {clean(' '.join(summary.problems), 500)}"
    _, words = words_of(summary.verdict or "not_enough_data", ended=_ended(summary))
    parts = [
        row.when,
        row.machine,
        f"length {row.length}",
        row.result.replace("± ≥", "± at least ") or "no rated output",
        words,
        row.state,
    ]
    return f"{', '.join(parts)}: {clean(found.path.name)}"
