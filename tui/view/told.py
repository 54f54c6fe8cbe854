"""What is said for a while: how it went, what could not be done. Rows of words, with no screen in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from tui.view.wrapping import shorten, wrap

__all__ = ["MOST_TOLD", "Severity", "Told", "added", "told_rows"]

Severity = Literal["information", "warning", "error"]

MOST_TOLD = 3
"""So many are kept; an older one gives way."""
_LOOKS: dict[Severity, tuple[str, str]] = {
    "information": ("i", "fill-quiet"),
    "warning": ("!", "fill-doubt"),
    "error": ("✗", "fill-bad"),
}
_MARK_COLUMNS = 4


@dataclass(frozen=True)
class Told:
    """One message."""

    text: str
    severity: Severity = "information"


def added(messages: Sequence[Told], new: Told) -> tuple[Told, ...]:
    """The messages with a new one at the end; the same words are not said twice."""
    others = [each for each in messages if each.text != new.text]
    return (*others[-(MOST_TOLD - 1) :], new)


def told_rows(messages: Sequence[Told], width: int, most: int) -> list[tuple[str, str]]:
    """The messages as rows of (text, role), each of the full width, the newest last.

    Args:
        messages: oldest first.
        width: in columns.
        most: rows; where there are more, older messages are left out, and the newest is shortened.
    """
    rows: list[tuple[str, str]] = []
    for message in reversed(messages):
        room = most - len(rows)
        if room <= 0:
            break
        words = _fitted(message.text, max(width - _MARK_COLUMNS, 10), room)
        if rows and len(words) < len(wrap(message.text, max(width - _MARK_COLUMNS, 10))):
            break
        mark, role = _LOOKS[message.severity]
        heads = [f" {mark} ", *["   "] * (len(words) - 1)]
        rows[:0] = [(f"{head}{row}".ljust(width), role) for head, row in zip(heads, words, strict=True)]
    return rows


def _fitted(text: str, width: int, most: int) -> list[str]:
    rows = wrap(text, width)
    if len(rows) <= most:
        return rows
    return [*rows[: most - 1], shorten(" ".join(rows[most - 1 :]), width)]
