"""Every text of a page made fit to be shown, wherever it came from."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from daq.model.text import clean
from daq.report.content import Figure, RecordingNote

__all__ = ["cleaned"]

_T = TypeVar("_T")

_LONGEST = 4000
_MOST_LISTED = 100
_TIED = re.compile(r"(?<=\d) (?=±|(?:V|A|Ah|Ω|rpm|Hz|%|s|h|min|°C|kV|kB)\b|%)|(?<=±) (?=\d)")
_MINUS = re.compile(r"(?<![\w.\-/])-(?=\d)")


def cleaned(part: _T) -> _T:
    """The same with control and direction characters taken out of each text in it, and endless lists cut."""
    found: Any = part
    if isinstance(found, str):
        found = _set(clean(found, _LONGEST))
    elif isinstance(found, tuple):
        found = tuple(cleaned(each) for each in _bounded(found))
    elif is_dataclass(found) and not isinstance(found, type):
        changed = {field.name: cleaned(getattr(found, field.name)) for field in fields(found)}
        if isinstance(found, Figure):
            changed["drawing"] = found.drawing
        if isinstance(found, RecordingNote):
            changed["name"] = clean(found.name, _LONGEST)
        found = replace(found, **changed)
    result: _T = found
    return result


def _bounded(listed: tuple[Any, ...]) -> tuple[Any, ...]:
    """A list of sentences that nobody reads to its end, such as a million marks of a stranger's, cut off in words."""
    more = len(listed) - _MOST_LISTED
    if more < 2 or not isinstance(listed[0], str):
        return listed
    return (*listed[:_MOST_LISTED], f"And {more} more, which are not listed here.")


def _set(text: str) -> str:
    """Keep a number and its unit on one line, and write a minus as one."""
    return _MINUS.sub("\u2212", _TIED.sub("\u00a0", text))
