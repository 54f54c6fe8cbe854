"""The usual lines of a recording at once, eight characters of each in one machine word.

A line is usual where channel and quality are one digit, the time has as many digits as in all others of the
block, and the value is a plain decimal of at most eight digits before the point and seven behind it. Each byte
of each line is looked at, so that nothing is taken that the line by line way would refuse; a block in which one
line is unusual is left to the parsers that take all there may be.

Eight characters lie in a word with the first of them in its lowest byte. Digits become their number in three
steps, of neighbours that are brought together: ones to pairs, pairs to fours, fours to eight (SIMD within a
register; arithmetic of our own, checked bit by bit against the line by line way). A decimal is its digits without
the point over a power of ten: both are whole and below 2^53, so that their quotient is the float64 nearest to
what stands there, as JSON wants it.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import numpy as np

from daq.recording.line_columns import Columns
from daq.recording.lines import MAX_QUALITY, MAX_T_NS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.int64]
    Words = NDArray[np.uint64]

__all__ = ["plain_columns"]

_BEFORE = b"0" * 16
"""Stands before the text, so that words may begin before its first characters."""
_MOST_TIME_DIGITS = 16
_WORD = np.dtype("<u8")


def _all_bytes(value: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes([value]) * 8, "little"))


_ZEROS, _DOTS = _all_bytes(ord("0")), _all_bytes(ord("."))
_HIGH_HALF, _LOW_HALF, _LOW_BITS = _all_bytes(0xF0), _all_bytes(0x0F), _all_bytes(0x7F)
_SIX = _all_bytes(6)
_KEPT = np.array([(2**64 - 1) >> (64 - 8 * n) << (64 - 8 * n) if n else 0 for n in range(9)], _WORD)
"""Keeps the last n characters of a word."""
_FILLED = _ZEROS & ~_KEPT
"""Zeros where the others were."""
_PLACE_OF_BIT = np.uint64(sum(place << (61 - 8 * place) for place in range(8)))
"""Times 256 to the power of p, this has p in its three highest bits."""
_TENS = 10 ** np.arange(9, dtype=np.int64)


def plain_columns(text: bytes, tick_ns: int) -> Columns | None:
    """The readings of a stretch of usual lines, or None where a line is not usual.

    Args:
        text: whole lines, ended by newlines; at most 2 GB.
        tick_ns: nanoseconds in one unit of their times.
    """
    if sys.byteorder != "little" or not text.endswith(b"\n"):
        return None
    padded = _BEFORE + text
    raw = np.frombuffer(padded, np.uint8)
    newline = np.flatnonzero(raw == ord("\n"))
    start = np.empty_like(newline)
    start[0] = len(_BEFORE)
    start[1:] = newline[:-1] + 1
    width = text.find(b",", 3) - 3
    end = newline - 3  # the comma behind the value
    if not 1 <= width <= _MOST_TIME_DIGITS or not bool((end - start >= width + 5).all()):
        return None
    if not _framed(raw, start, end, width):
        return None
    words: Words = np.ndarray((len(padded) - 7,), _WORD, padded, strides=(1,))
    t = _times(raw, words, start + 3, width)
    value = _values(raw, words, start + (width + 4), end)
    if t is None or value is None or int(t.max()) > MAX_T_NS // tick_ns:
        return None
    channel, quality = raw[start + 1] - np.uint8(ord("0")), raw[end + 1] - np.uint8(ord("0"))
    if int(channel.max()) > 9 or int(quality.max()) > MAX_QUALITY:  # what is below "0" wraps round to above 9
        return None
    t *= tick_ns
    return Columns(channel.astype(np.int16), t, value, quality.astype(np.int8))


def _framed(raw: Bytes, start: Places, end: Places, width: int) -> bool:
    """Whether brackets and commas stand where they should."""
    marks = (
        (start, "["),
        (start + 2, ","),
        (start + (width + 3), ","),
        (end, ","),
        (end + 2, "]"),
    )
    return all(bool((raw[at] == ord(mark)).all()) for at, mark in marks)


def _times(raw: Bytes, words: Words, at: Places, width: int) -> NDArray[np.int64] | None:
    """Whole numbers of so many digits each that begin there; None where one is none."""
    if width > 1 and bool((raw[at] == ord("0")).any()):
        return None
    last = words[at + (width - 8)] & _KEPT[min(width, 8)] | _FILLED[min(width, 8)]
    if not _all_digits(last):
        return None
    number = _number(last)
    if width > 8:
        first = words[at + (width - 16)] & _KEPT[width - 8] | _FILLED[width - 8]
        if not _all_digits(first):
            return None
        number += _number(first) * _TENS[8]
    return number


def _values(raw: Bytes, words: Words, begin: Places, end: Places) -> NDArray[np.float64] | None:
    """Decimals between two places each; None where one is none, or longer than is usual."""
    lead = raw[begin]
    negative = lead == ord("-")
    some_negative = bool(negative.any())
    if some_negative:
        begin = begin + negative
        lead = raw[begin]
    length = end - begin
    last = words[end - 8]
    behind, pointed = _decimals(last & _KEPT[np.minimum(length, 8)])
    before = length - behind - pointed
    if not bool(((before >= 1) & (before <= 8) & (pointed <= behind)).all()):
        return None
    if bool(((lead == ord("0")) & (before > 1)).any()):
        return None
    whole = words[end - 8 - behind - pointed] & _KEPT[before] | _FILLED[before]
    share = last & _KEPT[behind] | _FILLED[behind]
    if not (_all_digits(whole) and _all_digits(share)):
        return None
    tens = _TENS[behind]
    value = (_number(whole) * tens + _number(share)) / tens
    if some_negative:
        value *= 1.0 - 2.0 * negative
        value += np.where(pointed == 0, 0.0, -0.0)  # "-0" is a whole number and has no sign; "-0.0" has
    return np.asarray(value)


def _decimals(word: Words) -> tuple[Places, Places]:
    """How many characters stand behind the first point of each word, 0 where it has none; and 1 where it has one."""
    other = word ^ _DOTS  # zero in the byte of a point
    points = ~(((other & _LOW_BITS) + _LOW_BITS) | other | _LOW_BITS)
    points &= ~points + np.uint64(1)  # a second one is no digit, and is found there
    pointed = (points != 0).astype(np.int64)
    place = ((points >> np.uint64(7)) * _PLACE_OF_BIT >> np.uint64(61)).astype(np.int64)
    return (7 - place) * pointed, pointed


def _all_digits(word: Words) -> bool:
    """Whether all characters of all words are digits: their upper half is 3, and stays so when 6 is added."""
    return bool((((word & (word + _SIX)) & _HIGH_HALF) == _ZEROS).all())


def _number(word: Words) -> NDArray[np.int64]:
    """The number that eight digits are."""
    word = (word & _LOW_HALF) * np.uint64(10 * 256 + 1) >> np.uint64(8)
    word = (word & np.uint64(0x00FF00FF00FF00FF)) * np.uint64(100 * 65536 + 1) >> np.uint64(16)
    word = (word & np.uint64(0x0000FFFF0000FFFF)) * np.uint64(10000 * 2**32 + 1) >> np.uint64(32)
    return word.astype(np.int64)
