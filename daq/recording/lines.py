"""One line of a recording: bytes to a row or an entry, and back.

What stands in a file may come from a stranger. A line is therefore decoded
strictly and within limits, and its texts are cleaned of control characters,
so that nothing in a recording can drive a terminal.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Annotated, Any

import msgspec

from daq.model.reading import Quality, Reading
from daq.recording.entries import FORMAT_VERSION, TICK_NS, Entry, Line

__all__ = [
    "MAX_CHANNELS",
    "MAX_LINE_BYTES",
    "MAX_QUALITY",
    "MAX_T_NS",
    "TOO_LONG",
    "LineError",
    "Row",
    "clean_text",
    "decode_entry",
    "decode_row",
    "encode_lines",
    "may_be_entry",
    "may_be_row",
    "why_refused",
]

MAX_CHANNELS = 1024
"""Channels are numbered from 0 to one less than this."""
MAX_T_NS = 4_000_000_000_000_000_000
"""Latest ``t_ns`` that counts as a time: some 126 years."""
MAX_LINE_BYTES = 1 << 20
"""A longer line is no line of a recording."""
TOO_LONG = "longer than 1 MB"
"""What is said of it."""
MAX_QUALITY = max(Quality)
_MAX_DEPTH = 32
_ESCAPE = re.compile(rb'\\[^"\\/]')
"""An escape in JSON that may stand for a control character."""
_REFUSED = (msgspec.MsgspecError, ValueError, RecursionError)

Row = tuple[
    Annotated[int, msgspec.Meta(ge=0, lt=MAX_CHANNELS)],
    Annotated[int, msgspec.Meta(ge=0, le=MAX_T_NS)],
    float | None,
    Annotated[int, msgspec.Meta(ge=0, le=int(MAX_QUALITY))],
]
"""A reading as it stands in the file: channel, time in the version's unit, value, quality."""

_TICK_NS = TICK_NS[FORMAT_VERSION]
_encoder = msgspec.json.Encoder()
_row_decoder: msgspec.json.Decoder[Row] = msgspec.json.Decoder(Row)
_entry_decoder: msgspec.json.Decoder[Entry] = msgspec.json.Decoder(Entry)


class LineError(ValueError):
    """A line is neither a reading nor an entry; the text says why, in printable characters."""


def encode_lines(lines: Iterable[Line]) -> bytes:
    """Lines as bytes, each ended by a newline. A value that is no finite number becomes null.

    Numbers are written with the fewest digits that give the same float64 back; a
    reading's time is cut to whole microseconds.
    """
    return _encoder.encode_lines([_row_of(line) if type(line) is Reading else line for line in lines])


def _row_of(reading: Reading) -> Row:
    """As it stands in the file. Without a value it can't be a good one: it says NOT_A_NUMBER instead."""
    value, quality = reading.value, reading.quality
    if value is None or not math.isfinite(value):
        value = None
        quality = Quality.NOT_A_NUMBER if quality is Quality.GOOD else quality
    return reading.channel, reading.t_ns // _TICK_NS, value, quality


def decode_row(line: bytes, tick_ns: int = _TICK_NS) -> Row:
    """The reading in a line that starts with ``[``.

    Args:
        line: without its newline.
        tick_ns: nanoseconds in one unit of its time, by the format version.

    Raises:
        LineError: it is no reading.
    """
    if len(line) > MAX_LINE_BYTES:
        raise LineError(TOO_LONG)
    try:
        row = _row_decoder.decode(line)
    except _REFUSED as error:
        raise LineError(f"no reading [channel,time,value,quality]: {_reason(error)}") from error
    if row[1] > MAX_T_NS // tick_ns:
        raise LineError(f"its time, {row[1]}, is later than any recording can be")
    return row


def decode_entry(line: bytes) -> Entry:
    """The entry in a line that starts with ``{``, its texts cleaned.

    Raises:
        LineError: it is no entry of this version.
    """
    if len(line) > MAX_LINE_BYTES:
        raise LineError(TOO_LONG)
    if not line.startswith(b"{"):
        raise LineError("neither a reading nor an entry" if line.strip() else "empty")
    try:
        entry = _entry_decoder.decode(line)
        if _is_clean(line):
            return entry
        cleaned: Entry = msgspec.convert(_clean(msgspec.to_builtins(entry), 0), Entry)
        return cleaned
    except _REFUSED as error:
        raise LineError(f"no entry that this version knows: {_reason(error)}") from error


def may_be_row(line: bytes) -> bool:
    """Whether a line could be a reading; quick, so that junk costs little."""
    return line.startswith(b"[") and line.count(b",") == 3


def may_be_entry(line: bytes) -> bool:
    """Whether a line could be an entry; quick, so that junk costs little."""
    return line.startswith(b"{") and b'"entry"' in line


def why_refused(line: bytes, tick_ns: int = _TICK_NS) -> str:
    """The reason for which a line is neither a reading nor an entry."""
    try:
        if line.startswith(b"["):
            decode_row(line, tick_ns)
        else:
            decode_entry(line)
    except LineError as error:
        return str(error)
    return 'no "entry" in plain letters'


def _is_clean(line: bytes) -> bool:
    """Whether no text in a line can hold a character that is to be replaced, and it is not nested deeply."""
    if _ESCAPE.search(line) is not None or not line.decode().isprintable():
        return False
    return line.count(b"{") < _MAX_DEPTH > line.count(b"[")


def clean_text(text: str, *, limit: int | None = None) -> str:
    """The text without characters that could drive a terminal or hide others.

    Args:
        text: any text.
        limit: greatest length; a longer text is cut and ends on an ellipsis.
    """
    if limit is not None and len(text) > limit:
        text = text[: limit - 1] + "…"
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else " " if c in "\t\r\n" else "�" for c in text)


def _reason(error: BaseException) -> str:
    return clean_text(str(error), limit=160)


def _clean(value: Any, depth: int) -> Any:
    if depth > _MAX_DEPTH:
        raise ValueError(f"nested deeper than {_MAX_DEPTH}")
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, dict):
        return {clean_text(str(k)): _clean(v, depth + 1) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(v, depth + 1) for v in value]
    return value
