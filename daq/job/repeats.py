"""Sentences that repeat, told once with their number: what differs in numbers and file names alone is one kind."""

from __future__ import annotations

import re
from collections.abc import Iterable

from daq.model.counted import times

__all__ = ["grouped"]

_DIFFERS = re.compile(r"(?<!\S)\S+\.jsonl|[-+]?\d+(?:[.,:]\d+)*")
"""A file's name is looked for from the beginning of a word alone: from each letter, the time would be the square."""
_KEPT = 2
"""So many of one kind are told each by itself."""


def grouped(sentences: Iterable[str]) -> list[str]:
    """The sentences in their order, repeats counted.

    The same sentence again only counts; of one kind with other numbers or another file name two are told,
    and how many more there were.
    """
    counts: dict[str, int] = {}
    for sentence in sentences:
        counts[sentence] = counts.get(sentence, 0) + 1
    kinds: dict[str, list[str]] = {}
    for sentence in counts:
        kinds.setdefault(_DIFFERS.sub("#", sentence), []).append(sentence)
    said = []
    for alike in kinds.values():
        shown = alike if len(alike) <= _KEPT + 1 else alike[:_KEPT]
        said += [f"{each} ({times(counts[each])})" if counts[each] > 1 else each for each in shown]
        if len(shown) < len(alike):
            more = sum(counts[each] for each in alike[len(shown) :])
            said[-1] += f" (and {more} more of this kind)"
    return said
