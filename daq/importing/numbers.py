"""Numbers as devices write them: a point or a comma before the decimals, but one of them throughout a log."""

from __future__ import annotations

import re

from daq.recording.lines import clean_text

__all__ = ["DecimalMarkError", "NumberError", "NumberReader", "TooLongError"]

_MISSING = frozenset(("", "-", "--", "---", "nan", "null"))
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_LONGEST = 1000
"""Letters of a number: meters write some ten, and Python makes no whole number of more than 4300 digits."""


class NumberError(ValueError):
    """A cell holds no number; the text says so of the cell, for a sentence that names file and line."""


class DecimalMarkError(NumberError):
    """A number has a comma where the log's others have a point, or the reverse."""


class TooLongError(NumberError):
    """A number has more digits than can be reckoned with."""


class NumberReader:
    """Reads the numbers of one log and holds it to one decimal mark."""

    def __init__(self, delimiter: str) -> None:
        """Start a log.

        Args:
            delimiter: what separates its columns; a decimal comma needs another one.
        """
        self._mark = "." if delimiter == "," else None

    def read(self, text: str) -> str | None:
        """A cell's number with a decimal point, ready for ``float`` or ``Decimal``; None where none stands.

        Empty cells, dashes and the words "nan" and "null" are none.

        Raises:
            NumberError: the cell holds something else.
            TooLongError: it is a number of far too many digits.
            DecimalMarkError: it has the other decimal mark than the numbers before it.
        """
        text = text.strip()
        if text.lower() in _MISSING:
            return None
        if _NUMBER.fullmatch(text) is None:
            raise NumberError(
                f"{clean_text(text, limit=40)!r} is no number; leave the cell empty where there was no reading"
            )
        if len(text) > _LONGEST:
            raise TooLongError(
                f"{clean_text(text, limit=40)!r} has {len(text)} letters, more than any number needs"
            )
        mark = "," if "," in text else "." if "." in text else None
        if mark is not None and mark != self._mark:
            if self._mark is not None:
                shown = clean_text(text, limit=40)
                raise DecimalMarkError(
                    f"{shown!r} has a decimal {_WORDS[mark]} where this log has a {_WORDS[self._mark]}"
                )
            self._mark = mark
        return text.replace(",", ".")


_WORDS = {".": "point", ",": "comma"}
