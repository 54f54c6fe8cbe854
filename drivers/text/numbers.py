"""Which number of a line is meant, and where a line does not say it. Pure."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

__all__ = ["FoundNumber", "find_numbers"]

_NUMBER = re.compile(r"(?:[-+]\s{0,4})?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?")
_UNIT_WITH_DIGIT = re.compile(r"1/[A-Za-z]+|(?:(?<=min)|(?<=MIN))\^?-1(?![\d.])")
"""1/min, min-1: the digit is the unit's."""
_GLUED_BEFORE = re.compile(r"[A-Za-z]{1,16}$")
_PREFIX_WORDS = {"AC", "DC", "ACV", "DCV", "VAC", "VDC", "RPM", "N"}
"""Words that may touch the number behind them; other letters make it part of a name."""
_GROUP = re.compile(r",\d{3}(?!\d)")
_PART_OF_MORE = re.compile(r"[.:/'’`_-]?\d|\.")
_LIST = re.compile(r",([\d.]+)")
_DIGIT_COMMA = tuple(f"{digit}," for digit in range(10))
_SHORT = re.compile(r"[-+]?\s*\d{1,3}")
_SHORT_WITH_THREE_PLACES = re.compile(r"[-+]?\s*\d{1,3}\.\d{3}")


class FoundNumber(NamedTuple):
    """A number and what stands around it, up to its neighbours."""

    value: float
    before: str
    after: str


def find_numbers(text: str) -> list[FoundNumber]:
    """The numbers of a line that are no part of a name, unit, date or clock time.

    Args:
        text: one line.

    Returns:
        The first that is meant for a reading comes first; nothing where it
        might be a part of something else ("12,5", "3'580", "2026-01-02").
    """
    matches = list(_candidates(text))
    if not matches or text[max(matches[0].start() - 2, 0) : matches[0].start()].endswith(_DIGIT_COMMA):
        return []
    alone = [match for match in matches if _stands_alone(match, text)]
    if matches[0] not in alone:
        return []
    starts = [0, *(match.end() for match in alone)]
    ends = [*(match.start() for match in alone), len(text)]
    return [
        FoundNumber(
            float(re.sub(r"\s+", "", match.group())),
            text[starts[n] : match.start()],
            text[match.end() : ends[n + 1]],
        )
        for n, match in enumerate(alone)
    ]


def _candidates(text: str) -> Iterator[re.Match[str]]:
    of_units = {match.start() for match in _UNIT_WITH_DIGIT.finditer(text)}
    for match in _NUMBER.finditer(text):
        start = match.start()
        if start in of_units or start - 1 in of_units:
            continue
        if match.group()[0] in "0123456789.":
            before = text[max(start - 17, 0) : start]
            glued = _GLUED_BEFORE.search(before)
            if glued is not None and glued.group().upper() not in _PREFIX_WORDS:
                continue
            if before.endswith(("_", "#")):
                continue
        yield match


def _stands_alone(match: re.Match[str], text: str) -> bool:
    """A clock time, a date, a version, grouped digits, a list without spaces is not one number."""
    number, start, end = match.group(), match.start(), match.end()
    if number[0] in "+-":
        if text[max(start - 1, 0) : start].isdigit():
            return False
    elif text[max(start - 1, 0) : start] in tuple(".:/'’`") and text[max(start - 2, 0) : start - 1].isdigit():
        return False
    # The unit 1/min may follow a number without a space; nothing else with a digit may.
    if _PART_OF_MORE.match(text, end):
        return False
    listed = _LIST.match(text, end)
    if listed is None:
        return True
    if _GROUP.match(text, end) and _SHORT.fullmatch(number):
        return False  # 1,234.5 is one number where commas group
    if _SHORT_WITH_THREE_PLACES.fullmatch(number):
        return False  # 1.234,5 is one number where points group
    return "." in number or "." in listed.group(1)
