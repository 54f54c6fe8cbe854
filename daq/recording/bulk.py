"""Many readings at once: the brackets go, a C parser of CSV text reads the rest.

The C parser takes more than JSON allows ("+5", "007", "1.0" for a whole
number, an empty field). So that this way accepts exactly what the line by line
way does, the layout is checked against the numbers it gave: every whole number
must be as long as it prints, and no letter may stand anywhere but in ``null``
and as the ``e`` of an exponent.
"""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from daq.recording.lines import MAX_CHANNELS, MAX_QUALITY, MAX_T_NS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Columns", "bulk_columns", "no_columns"]


class Columns(NamedTuple):
    """Readings as arrays of one length; a missing value is NaN."""

    channel: NDArray[np.int16]
    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    quality: NDArray[np.int8]

    def head(self, count: int) -> Columns:
        """The first so many."""
        return Columns(self.channel[:count], self.t_ns[:count], self.value[:count], self.quality[:count])


def no_columns() -> Columns:
    """Columns without a reading."""
    return Columns(
        np.empty(0, np.int16), np.empty(0, np.int64), np.empty(0, np.float64), np.empty(0, np.int8)
    )


_LONGEST_VALUE = 25
"""A float64 needs no more; longer texts go line by line."""
_POWERS = 10 ** np.arange(1, 19, dtype=np.int64)
_TYPES = {"channel": np.int64, "t_ns": np.int64, "value": np.float64, "quality": np.int64}


def bulk_columns(text: bytes) -> Columns | None:
    """The readings of a stretch of lines, or None where a line is no plain reading.

    Args:
        text: lines that each start with ``[`` in a sound recording, ended by newlines.
    """
    if not text:
        return no_columns()
    raw = np.frombuffer(text, np.uint8)
    layout = _layout(raw)
    if layout is None:
        return None
    columns = _read(text)
    if columns is None or len(columns[0]) != len(layout) or not _plain(raw, layout, columns):
        return None
    return columns


def _layout(raw: NDArray[np.uint8]) -> NDArray[np.int64] | None:
    """Places of ``[``, the three commas and ``]`` in each line, one row a line; None where they don't fit."""
    ends = np.flatnonzero(raw == ord("\n"))
    commas = np.flatnonzero(raw == ord(","))
    if len(commas) != 3 * len(ends) or np.count_nonzero(raw < ord(",")) != len(ends):
        return None
    layout = np.empty((len(ends), 5), np.int64)
    layout[0, 0] = 0
    layout[1:, 0] = ends[:-1] + 1
    layout[:, 1:4] = commas.reshape(-1, 3)
    layout[:, 4] = ends - 1
    in_order = bool((layout[:, 1] > layout[:, 0]).all() and (layout[:, 3] < layout[:, 4]).all())
    brackets = in_order and bool(
        (raw[layout[:, 0]] == ord("[")).all() and (raw[layout[:, 4]] == ord("]")).all()
    )
    return layout if brackets else None


def _read(text: bytes) -> Columns | None:
    import pandas as pd

    try:
        frame = pd.read_csv(
            io.BytesIO(text.translate(None, b"[]")),
            header=None,
            names=list(_TYPES),
            dtype=_TYPES,
            na_values=["null"],
            keep_default_na=False,
            index_col=False,
            quoting=csv.QUOTE_NONE,
            low_memory=False,
        )
    except (ValueError, OverflowError):  # pandas' own parser error is a ValueError too
        return None
    channel, t_ns, value, quality = (frame[name].to_numpy() for name in _TYPES)
    if not (_all_within(channel, MAX_CHANNELS - 1) and _all_within(t_ns, MAX_T_NS)):
        return None
    if not _all_within(quality, int(MAX_QUALITY)) or bool(np.isinf(value).any()):
        return None
    return Columns(channel.astype(np.int16), t_ns, value, quality.astype(np.int8))


def _all_within(numbers: NDArray[np.int64], highest: int) -> bool:
    return bool(numbers.min() >= 0 and numbers.max() <= highest)


def _plain(raw: NDArray[np.uint8], layout: NDArray[np.int64], columns: Columns) -> bool:
    """Whether each field is written as plain JSON, given that its number is right."""
    channel, t_ns, value, _ = columns
    widths = np.diff(layout, axis=1) - 1
    whole = (
        bool((widths[:, 3] == 1).all())
        and _as_long_as_printed(channel, widths[:, 0])
        and _as_long_as_printed(t_ns, widths[:, 1])
    )
    return whole and _plain_values(raw, layout, value) and int(widths[:, 2].max()) <= _LONGEST_VALUE


def _as_long_as_printed(numbers: NDArray[np.integer], widths: NDArray[np.int64]) -> bool:
    low, high = len(str(numbers.min())), len(str(numbers.max()))
    if low == high:
        return bool((widths == low).all())
    return bool((np.searchsorted(_POWERS, numbers, side="right") + 1 == widths).all())


def _plain_values(raw: NDArray[np.uint8], layout: NDArray[np.int64], value: NDArray[np.float64]) -> bool:
    first = layout[:, 2] + 1
    first = first + (raw[first] == ord("-"))
    lead, following, last = raw[first], raw[first + 1], raw[layout[:, 3] - 1]
    missing = np.isnan(value)
    leading_zero = (lead == ord("0")) & _is_digit(following)
    if not bool((_is_digit(lead) | missing).all()) or bool(leading_zero.any()):
        return False
    exponents = np.flatnonzero(raw == ord("e"))
    letters = 2 * len(layout) + 4 * np.count_nonzero(missing) + len(exponents)
    if np.count_nonzero(raw > ord("@")) != letters or not bool((_is_digit(last) | missing).all()):
        return False
    return not len(exponents) or _only_in_values(raw, layout, exponents)


def _only_in_values(raw: NDArray[np.uint8], layout: NDArray[np.int64], exponents: NDArray[np.int64]) -> bool:
    """Whether every exponent stands in the value and after a digit ("1.e5" is no JSON)."""
    field = np.searchsorted(layout[:, 1:4].ravel(), exponents) % 3
    return bool((field == 2).all()) and bool(_is_digit(raw[exponents - 1]).all())


def _is_digit(raw: NDArray[np.uint8]) -> NDArray[np.bool_]:
    return (raw >= ord("0")) & (raw <= ord("9"))
