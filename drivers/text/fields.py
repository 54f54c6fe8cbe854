"""A line into one field for each channel, by delimiter, pattern or JSON keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import msgspec

from drivers.text.patterns import finder
from drivers.text.settings import TextSettings

__all__ = ["Field", "Split", "splitter_for"]

Field = bytes | float | None
"""Text to be judged, a number, or nothing where the line does not speak of the channel."""
Split = Callable[[bytes], Sequence[Field] | None]
"""A field for each channel; None for a line that is none of these."""


def splitter_for(settings: TextSettings, channels: int) -> Split:
    """The way of reading that the card asks for."""
    if settings.keys:
        return _by_keys(settings.keys)
    if settings.delimiter:
        return _by_delimiter(settings, channels)
    return finder(settings.pattern, channels)


def _by_delimiter(settings: TextSettings, channels: int) -> Split:
    places = [field - 1 for field in settings.fields] or list(range(channels))
    count = settings.field_count if settings.field_count is not None else max(places) + 1
    delimiter = None if settings.delimiter == " " else settings.delimiter.encode("ascii")

    def split(line: bytes) -> Sequence[Field] | None:
        fields = line.split(delimiter)
        return [fields[place] for place in places] if len(fields) == count else None

    return split


def _by_keys(keys: Sequence[str]) -> Split:
    paths = [key.split(".") for key in keys]

    def split(line: bytes) -> Sequence[Field] | None:
        try:
            found = msgspec.json.decode(line)
        except (ValueError, RecursionError):
            return None
        return [_at(found, path) for path in paths] if isinstance(found, dict) else None

    return split


def _at(found: object, path: Sequence[str]) -> Field:
    for key in path:
        if not isinstance(found, dict) or key not in found:
            return None
        found = found[key]
    if isinstance(found, str):
        return found.encode("utf-8", "replace")
    if isinstance(found, int | float) and not isinstance(found, bool):
        return _as_float(found)
    # null and anything else that is no number: the instrument has no value.
    return b"NAN" if found is None else b"?"


def _as_float(number: float) -> Field:
    try:
        return float(number)
    except OverflowError:
        return b"?"
