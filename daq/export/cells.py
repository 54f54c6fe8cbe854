"""Columns of a data frame as the cells of a CSV file, many at once.

Numbers have the fewest digits that give the same float64 back, with a point
and perhaps an exponent. What is not known, and what is no finite number, is an
empty cell. Times are UTC to the microsecond. Text is quoted where RFC 4180
asks for it, and a text that a spreadsheet would take for a formula is made
harmless.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

__all__ = ["cells", "text_cell"]

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A text that starts so may be run as a formula: OWASP, "CSV Injection"."""
_QUOTED = frozenset(',"\r\n')
_MICROSECOND = np.timedelta64(1, "us")


def cells(column: pd.Series[Any]) -> list[bytes]:
    """The cells of a column, each as the bytes between two commas."""
    if isinstance(column.dtype, np.dtype):
        values = column.to_numpy()
        if column.dtype.kind == "f":
            return _number_cells(values.astype(np.float64, copy=False).tolist())
        if column.dtype.kind in "iu":
            return _number_cells(values.tolist())
        if column.dtype.kind == "b":
            return _number_cells(values.astype(np.int8).tolist())
    if column.dtype.kind == "M":
        return _time_cells(column)
    return _repeated_cells(column)


def text_cell(text: str) -> bytes:
    """A text as a cell: harmless in a spreadsheet, quoted where RFC 4180 (2.6, 2.7) asks for it."""
    if text.startswith(_FORMULA_STARTS):
        return b"\"'" + text.replace('"', '""').encode() + b'"'
    if _QUOTED.isdisjoint(text):
        return text.encode()
    return b'"' + text.replace('"', '""').encode() + b'"'


def _number_cells(numbers: list[Any]) -> list[bytes]:
    """All at once through the JSON encoder, which writes the shortest digits and null for the rest."""
    if not numbers:
        return []
    return msgspec.json.encode(numbers)[1:-1].replace(b"null", b"").split(b",")


def _repeated_cells(column: pd.Series[Any]) -> list[bytes]:
    """A column in which few different values stand, such as words."""
    codes, values = column.factorize()
    different = [_cell(value) for value in values]
    different.append(b"")  # code -1: nothing is known
    return [different[code] for code in codes.tolist()]


def _cell(value: Any) -> bytes:
    if isinstance(value, str):
        return text_cell(value)
    if isinstance(value, bool | np.bool_):
        return b"1" if value else b"0"
    if isinstance(value, int | np.integer):
        return b"%d" % int(value)
    if isinstance(value, float | np.floating):
        return _number_cells([float(value)])[0]
    return text_cell(str(value))


def _time_cells(column: pd.Series[Any]) -> list[bytes]:
    """Times as ``2026-03-01T08:00:00.123456Z``."""
    utc = column.dt.tz_convert("UTC").dt.tz_localize(None) if column.dt.tz is not None else column
    moments = utc.to_numpy().astype("datetime64[us]")
    known = ~np.isnat(moments)
    if not known.all():
        moments = np.where(known, moments, np.datetime64(0, "us"))
    seconds = moments.astype("datetime64[s]")
    different, index = np.unique(seconds, return_inverse=True)
    texts = np.empty((len(moments), 27), np.uint8)
    heads = np.datetime_as_string(different, unit="s").astype("S19")
    texts[:, :19] = heads.view(np.uint8).reshape(-1, 19)[index]
    texts[:, 19] = ord(".")
    _write_digits(((moments - seconds) / _MICROSECOND).astype(np.int64), texts[:, 20:26])
    texts[:, 26] = ord("Z")
    written: list[bytes] = texts.view("S27").ravel().tolist()
    return written if known.all() else [t if k else b"" for t, k in zip(written, known, strict=True)]


def _write_digits(numbers: NDArray[np.int64], into: NDArray[np.uint8]) -> None:
    for place in range(into.shape[1] - 1, -1, -1):
        into[:, place] = numbers % 10 + ord("0")
        numbers = numbers // 10
