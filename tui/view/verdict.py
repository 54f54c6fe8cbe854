"""The verdict in a word, a shape, a tone and a sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tui.view.numbers import fixed, percent
from tui.view.state import Tone, VerdictView

if TYPE_CHECKING:
    from daq.verdict.result import Result

__all__ = [
    "ENDED_SHAPES",
    "ENDED_WORDS",
    "SHAPES",
    "TONES",
    "VERDICT_WORDS",
    "shape_of",
    "verdict_view",
    "words_of",
]

VERDICT_WORDS: dict[str, tuple[str, str]] = {
    "pass": ("PASS", "meets its limit"),
    "fail": ("FAIL", "misses its limit"),
    "too_close": ("DOUBT", "too close to call"),
    "no_limit": ("NO LIMIT", "no limit is set"),
    "not_enough_data": ("WAIT", "not enough data yet"),
}
SHAPES = {"pass": "✓", "fail": "✗", "too_close": "≈", "no_limit": "–", "not_enough_data": "…"}
ENDED_WORDS = {**VERDICT_WORDS, "not_enough_data": ("NONE", "not enough data")}
"""The same of a run that has ended: there is nothing to wait for any more."""
ENDED_SHAPES = {**SHAPES, "not_enough_data": "?"}
TONES: dict[str, Tone] = {
    "pass": "good",
    "fail": "bad",
    "too_close": "doubt",
    "no_limit": "quiet",
    "not_enough_data": "quiet",
}


def words_of(verdict: str, *, ended: bool) -> tuple[str, str]:
    """A verdict in a word for block letters and in full; ``ended``: its run is over, and more won't come."""
    return (ENDED_WORDS if ended else VERDICT_WORDS)[verdict]


def shape_of(verdict: str, *, ended: bool) -> str:
    """The shape that stands beside the words."""
    return (ENDED_SHAPES if ended else SHAPES)[verdict]


def verdict_view(result: Result, *, ended: bool = False) -> VerdictView:
    """Put a result's verdict into words; ``ended``: its run is over, and more won't come."""
    word, words = words_of(result.verdict, ended=ended)
    return VerdictView(
        word=word,
        shape=shape_of(result.verdict, ended=ended),
        words=words,
        tone=TONES[result.verdict],
        limit=_limit(result),
        chance=_chance(result),
    )


def _limit(result: Result) -> str:
    if result.rated_speed_rpm is None:
        return "no machine card"
    if result.minimum_V is None:
        return "no limit on its card"
    return f"limit at least {fixed(result.minimum_V, 1)} V"


def _chance(result: Result) -> str:
    if result.minimum_V is None or result.conformance_probability is None:
        return ""
    return f"chance {percent(result.conformance_probability)}"
