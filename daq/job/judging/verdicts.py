"""What a judged step says: its lines, its verdict, and the findings for the diagnosis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from daq.verdict.conformance import conformance_probability

__all__ = [
    "CONFIDENCE",
    "Finding",
    "Line",
    "StepJudgement",
    "StepVerdict",
    "at_least",
    "at_most",
    "call",
    "judged",
    "telling",
]

StepVerdict = Literal["pass", "fail", "too_close", "no_limit", "not_judged", "cut_short"]

CONFIDENCE = 0.95
"""Pass from this probability on, fail from its complement down (JCGM 106:2012, guarded acceptance)."""

_WORST_FIRST: tuple[StepVerdict, ...] = ("fail", "cut_short", "too_close", "not_judged", "no_limit", "pass")


class Finding(msgspec.Struct, frozen=True):
    """One fact for the diagnosis."""

    name: str
    """As in the table of findings."""
    strength: float
    """How sure it is, 0 to 1."""
    text: str
    """The fact with its numbers."""


class Line(msgspec.Struct, frozen=True, kw_only=True):
    """One judged quantity of a step."""

    title: str
    reading: str
    limit: str
    """In words with its source; "" where there is none."""
    verdict: StepVerdict
    sentence: str


class StepJudgement(msgspec.Struct, frozen=True):
    """A whole step, judged."""

    verdict: StepVerdict
    lines: tuple[Line, ...]
    findings: tuple[Finding, ...] = ()


def judged(lines: Sequence[Line], findings: Sequence[Finding] = ()) -> StepJudgement:
    """A step from its lines: its verdict is the worst of theirs; findings that say nothing are left out."""
    verdicts = {line.verdict for line in lines}
    verdict: StepVerdict = next((each for each in _WORST_FIRST if each in verdicts), "not_judged")
    if verdict == "no_limit" and "pass" in verdicts:
        verdict = "pass"
    return StepJudgement(verdict, tuple(lines), tuple(each for each in findings if each.strength >= 0.02))


def at_least(value: float, u: float, limit: float) -> float:
    """Probability that the true value is at or above a limit."""
    return conformance_probability(value, u, limit)


def at_most(value: float, u: float, limit: float) -> float:
    """Probability that the true value is at or below a limit."""
    return conformance_probability(-value, u, -limit)


def telling(probability: float, sure_from: float = CONFIDENCE) -> float:
    """What a probability says as a finding: nothing at even odds, all of it from ``sure_from`` on."""
    return probability * min(1.0, max(0.0, (probability - 0.5) / (sure_from - 0.5)))


def call(probability: float) -> StepVerdict:
    """Pass, fail, or too close, by the probability that the limit is met."""
    if probability >= CONFIDENCE:
        return "pass"
    return "fail" if probability <= 1.0 - CONFIDENCE else "too_close"
