"""Every text of a page made fit to be shown, wherever it came from."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, TypeVar

from daq.model.text import clean
from daq.report.content import Figure

__all__ = ["cleaned"]

_T = TypeVar("_T")

_LONGEST = 4000


def cleaned(part: _T) -> _T:
    """The same with control and direction characters taken out of each text in it."""
    found: Any = part
    if isinstance(found, str):
        found = clean(found, _LONGEST)
    elif isinstance(found, tuple):
        found = tuple(cleaned(each) for each in found)
    elif is_dataclass(found) and not isinstance(found, type):
        changed = {field.name: cleaned(getattr(found, field.name)) for field in fields(found)}
        if isinstance(found, Figure):
            changed["drawing"] = found.drawing
        found = replace(found, **changed)
    result: _T = found
    return result
