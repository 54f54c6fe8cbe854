"""Many readings at once: usual lines by :mod:`daq.recording.plain_lines`, all others through a C parser of CSV text.

Where channel and quality are one digit each, as nearly always, they are taken
from their places, and the parser reads the two numbers between them from the
text as it stands. Otherwise the brackets go first and it reads all four.

The C parser takes more than JSON allows ("+5", "007", "1.0" for a whole
number, an empty field). So that this way accepts exactly what the line by line
way does, the layout is checked against the numbers it gave: every whole number
must be as long as it prints, and no letter may stand anywhere but in ``null``
and as the ``e`` of an exponent.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from daq.recording.line_columns import Columns, no_columns
from daq.recording.lines import MAX_CHANNELS, MAX_LINE_BYTES, MAX_QUALITY, MAX_T_NS
from daq.recording.plain_lines import plain_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["bulk_columns"]


_POWERS = 10 ** np.arange(1, 19, dtype=np.int64)
_MARKS_OF_A_LINE = np.frombuffer(b",,,\n", np.uint32)[0]
_TYPES = {"channel": np.int64, "t_ns": np.int64, "value": np.float64, "quality": np.int64}


def bulk_columns(text: bytes, tick_ns: int) -> Columns | None:
    """The readings of a stretch of lines, or None where a line is no plain reading.

    Args:
        text: lines that each start with ``[`` in a sound recording, ended by
            newlines; at most 2 GB.
        tick_ns: nanoseconds in one unit of their times, by the format version.
    """
    if not text:
        return no_columns()
    usual = plain_columns(text, tick_ns)
    return usual if usual is not None else _parsed(text, tick_ns)


def _parsed(text: bytes, tick_ns: int) -> Columns | None:
    """The same through the C parser."""
    raw = np.frombuffer(text, np.uint8)
    layout = _find_layout(raw)
    if layout is None:
        return None
    columns = _read_between(text, raw, layout) if _one_digit_each(layout) else _read(text)
    if columns is None or len(columns.t_ns) != len(layout.opening):
        return None
    if not _is_plain(raw, layout, columns) or columns.t_ns.max() > MAX_T_NS // tick_ns:
        return None
    columns = columns._replace(value=_without_sign(columns.value, layout))
    return columns if tick_ns == 1 else columns._replace(t_ns=columns.t_ns * tick_ns)


class _Layout(NamedTuple):
    """Places of the brackets and commas of each line, as bytes from the start of the text."""

    opening: NDArray[np.int32]
    comma_1: NDArray[np.int32]
    comma_2: NDArray[np.int32]
    comma_3: NDArray[np.int32]
    closing: NDArray[np.int32]


def _find_layout(raw: NDArray[np.uint8]) -> _Layout | None:
    """Where the marks stand, or None where a line is not made of four fields in brackets."""
    found = np.flatnonzero(raw < ord("-"))  # nothing below it may stand in a line but its commas and its end
    if len(found) == 0 or len(found) % 4 or not bool((raw[found].view(np.uint32) == _MARKS_OF_A_LINE).all()):
        return None
    marks = np.empty((5, len(found) // 4), np.int32)  # a row for each mark, so that each is contiguous
    marks[1:] = found.reshape(-1, 4).T
    marks[0, 0] = 0
    marks[0, 1:] = marks[4, :-1] + 1
    marks[4] -= 1
    layout = _Layout(*marks)
    in_order = (layout.comma_1 > layout.opening).all() and (layout.comma_3 < layout.closing).all()
    if int((layout.closing - layout.opening).max()) >= MAX_LINE_BYTES:
        return None
    if in_order and (raw[layout.opening] == ord("[")).all() and (raw[layout.closing] == ord("]")).all():
        return layout
    return None


def _one_digit_each(layout: _Layout) -> bool:
    """Channel and quality are one byte wide in every line."""
    channel, quality = layout.comma_1 - layout.opening, layout.closing - layout.comma_3
    return bool((channel == 2).all() and (quality == 2).all())


def _read_between(text: bytes, raw: NDArray[np.uint8], layout: _Layout) -> Columns | None:
    """For lines whose channel and quality are one byte: only what stands between them is left to the parser."""
    channel, quality = raw[layout.opening + 1], raw[layout.closing - 1]
    if not (_is_digit(channel).all() and _is_digit(quality).all()):
        return None
    channel, quality = channel - np.uint8(ord("0")), quality - np.uint8(ord("0"))
    numbers = _numbers(text, ["t_ns", "value"])
    if numbers is None or int(quality.max()) > MAX_QUALITY:
        return None
    t_ns, value = numbers
    if t_ns.min() < 0 or t_ns.max() > MAX_T_NS:
        return None
    return Columns(channel.astype(np.int16), t_ns, value, quality.astype(np.int8))


def _read(text: bytes) -> Columns | None:
    numbers = _numbers(text.translate(None, b"[]"), list(_TYPES))
    if numbers is None:
        return None
    channel, t_ns, value, quality = numbers
    limits = ((channel, MAX_CHANNELS - 1), (t_ns, MAX_T_NS), (quality, int(MAX_QUALITY)))
    if any(numbers.min() < 0 or numbers.max() > highest for numbers, highest in limits):
        return None
    return Columns(channel.astype(np.int16), t_ns, value, quality.astype(np.int8))


def _numbers(text: bytes, wanted: list[str]) -> list[NDArray[Any]] | None:
    """Some columns of CSV text, in order; None where the parser refuses it."""
    import pandas as pd

    try:
        with np.errstate(invalid="ignore"):  # 1e400 for a whole number: refused by its size
            frame = pd.read_csv(
                io.BytesIO(text),
                header=None,
                names=list(_TYPES),
                usecols=wanted,
                dtype={name: _TYPES[name] for name in wanted},
                na_values={"value": ["null"]},
                keep_default_na=False,
                index_col=False,
                quoting=csv.QUOTE_NONE,
                low_memory=False,
                **_exact_floats(pd.__version__),
            )
    except (ValueError, TypeError, OverflowError):  # pandas' own parser error is a ValueError too
        return None
    return [frame[name].to_numpy() for name in wanted]


def _exact_floats(pandas_version: str) -> dict[str, Any]:
    """What makes pandas read every float64 to the last bit: before 3.1 it had to be asked for."""
    major, minor = (int(part) for part in pandas_version.split(".")[:2])
    return {"float_precision": "round_trip"} if (major, minor) < (3, 1) else {}


def _is_plain(raw: NDArray[np.uint8], layout: _Layout, columns: Columns) -> bool:
    """Whether each field is written as plain JSON, given that its number is right."""
    return (
        _as_long_as_printed(columns.channel, layout.comma_1 - layout.opening - 1)
        and _as_long_as_printed(columns.t_ns, layout.comma_2 - layout.comma_1 - 1)
        and _as_long_as_printed(columns.quality, layout.closing - layout.comma_3 - 1)
        and _plain_values(raw, layout, columns.value)
    )


def _as_long_as_printed(numbers: NDArray[np.signedinteger], widths: NDArray[np.int32]) -> bool:
    low, high = len(str(numbers.min())), len(str(numbers.max()))
    if low == high:
        return bool((widths == low).all())
    return bool((np.searchsorted(_POWERS, numbers, side="right") + 1 == widths).all())


def _plain_values(raw: NDArray[np.uint8], layout: _Layout, value: NDArray[np.float64]) -> bool:
    """Whether the values are JSON numbers or null, and letters stand nowhere else."""
    if bool(np.isinf(value).any()):
        return False
    missing = np.isnan(value)
    first = layout.comma_2 + 1
    first += raw[first] == ord("-")
    lead = raw[first]
    if not bool((_is_digit(lead) | missing).all()):
        return False
    if bool(((lead == ord("0")) & _is_digit(raw[first + 1])).any()):
        return False
    if not bool((_is_digit(raw[layout.comma_3 - 1]) | missing).all()):
        return False
    exponents = np.flatnonzero(raw == ord("e"))
    letters = 2 * len(missing) + 4 * np.count_nonzero(missing) + len(exponents)
    if np.count_nonzero(raw > ord("@")) != letters:
        return False
    return not len(exponents) or _exponents_in_values(raw, layout, exponents)


def _without_sign(value: NDArray[np.float64], layout: _Layout) -> NDArray[np.float64]:
    """As line by line: "-0" is a whole number and has no sign, where "-0.0" and "-0e0" have one."""
    short = layout.comma_3 - layout.comma_2 == 3
    negative = short & (value == 0.0) & np.signbit(value)
    return np.where(negative, 0.0, value) if bool(negative.any()) else value


def _exponents_in_values(raw: NDArray[np.uint8], layout: _Layout, exponents: NDArray[np.intp]) -> bool:
    """Whether every exponent stands in a value and after a digit ("1.e5" is no JSON)."""
    lines = np.searchsorted(layout.closing, exponents)
    within = (layout.comma_2[lines] < exponents) & (exponents < layout.comma_3[lines])
    return bool(within.all()) and bool(_is_digit(raw[exponents - 1]).all())


def _is_digit(raw: NDArray[np.uint8]) -> NDArray[np.bool_]:
    return (raw - np.uint8(ord("0"))) < 10  # what is below "0" wraps round to above 9
