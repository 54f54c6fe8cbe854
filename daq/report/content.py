"""What stands on a report's page, as plain data; the template lays it out and adds no word of its own."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal, Self, TypeVar

__all__ = [
    "Badge",
    "BudgetPart",
    "Change",
    "Comparison",
    "Fact",
    "Fault",
    "Figure",
    "Instrument",
    "Judged",
    "NotDone",
    "Page",
    "Question",
    "RecordingNote",
    "Test",
    "Tone",
]

_T = TypeVar("_T")
Tone = Literal["good", "bad", "unsure", "none"]


@dataclass(frozen=True)
class Badge:
    """A verdict: its word, and how it is drawn. The sign tells it without colour."""

    word: str
    tone: Tone

    @property
    def sign(self) -> str:
        """A sign of its own for each tone."""
        return {"good": "✓", "bad": "✗", "unsure": "≈", "none": "–"}[self.tone]


@dataclass(frozen=True)
class Question:
    """One of the questions that a report answers."""

    question: str
    badge: Badge
    sentence: str


@dataclass(frozen=True)
class Figure:
    """A plot with its words."""

    name: str
    """Unique on the page; ids within the drawing begin with it."""
    title: str
    caption: str
    description: str
    """What is to be seen, for who can't see it."""
    drawing: str
    """SVG without namespaces or style attributes, to stand within HTML."""
    wide: bool = False
    """It needs the whole width of the page."""


@dataclass(frozen=True)
class Judged:
    """One judged quantity of a test."""

    title: str
    reading: str
    limit: str
    badge: Badge
    sentence: str = ""


@dataclass(frozen=True)
class BudgetPart:
    """One line of an uncertainty budget."""

    name: str
    amount: str
    share: str


@dataclass(frozen=True)
class Test:
    """One test with what it rests on."""

    anchor: str
    title: str
    badge: Badge
    purpose: str = ""
    rows: tuple[Judged, ...] = ()
    reasons: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    """Where the engine stopped: usual causes, each with its caution."""
    taken: tuple[str, ...] = ()
    """How each reading was taken."""
    acceptance: str = ""
    tells: str = ""
    figures: tuple[Figure, ...] = ()
    budget: tuple[BudgetPart, ...] = ()
    """What the ± is made of; () where the test has none of its own."""

    @property
    def key(self) -> Judged | None:
        """The line that decided the test: the first with its verdict."""
        return next(
            (row for row in self.rows if row.badge == self.badge), self.rows[0] if self.rows else None
        )


@dataclass(frozen=True)
class Fault:
    """A fault with what speaks for and against it."""

    title: str
    named: bool
    supports: tuple[str, ...]
    contradicts: tuple[str, ...]
    remedy: str


@dataclass(frozen=True)
class Change:
    """One reading before and after."""

    title: str
    before: str
    after: str
    change: str
    meaning: str
    """Whether it is more than chance, and whether the limit is now met."""


@dataclass(frozen=True)
class Comparison:
    """Before and after."""

    title: str
    repairs: tuple[str, ...]
    sentences: tuple[str, ...]
    changes: tuple[Change, ...]
    figures: tuple[Figure, ...]
    earlier: tuple[Test, ...] = ()
    """The repeated tests as they were before."""


@dataclass(frozen=True)
class Fact:
    """One value of a machine card."""

    label: str
    value: str
    source: str


@dataclass(frozen=True)
class NotDone:
    """A test that was not done, and why."""

    title: str
    reason: str


@dataclass(frozen=True)
class Instrument:
    """An instrument and the accuracy it was taken to have."""

    name: str
    measured: str
    accuracy: str
    source: str


@dataclass(frozen=True)
class RecordingNote:
    """A file that the report rests on."""

    name: str
    used_for: str
    badge: Badge
    """Whether it is whole and unchanged."""
    sentences: tuple[str, ...]
    digest: str


@dataclass(frozen=True)
class Page:
    """Everything on the page, in its order."""

    title: str
    machine_title: str
    headline: str
    badge: Badge
    sentences: tuple[str, ...] = ()
    questions: tuple[Question, ...] = ()
    warnings: tuple[str, ...] = ()
    """What must be known before anything below is relied on."""
    machine: tuple[Fact, ...] = ()
    open_points: tuple[str, ...] = ()
    tests: tuple[Test, ...] = ()
    comparison: Comparison | None = None
    faults: tuple[Fault, ...] = ()
    next_steps: tuple[str, ...] = ()
    budget: tuple[str, ...] = ()
    budget_figures: tuple[Figure, ...] = ()
    not_done: tuple[NotDone, ...] = ()
    instruments: tuple[Instrument, ...] = ()
    cautions: tuple[str, ...] = ()
    method: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    recordings: tuple[RecordingNote, ...] = ()
    notes: tuple[str, ...] = ()
    began: str = ""
    """When the job or the first run began; "" where nobody's clock showed it."""
    made: str = ""
    program: str = ""

    def with_further(self, other: Page) -> Self:
        """This page with another's tests and what they rest on behind its own."""
        return replace(
            self,
            warnings=_joined(self.warnings, other.warnings),
            tests=self.tests + other.tests,
            instruments=_joined(self.instruments, other.instruments),
            cautions=_joined(self.cautions, other.cautions),
            method=_joined(self.method, other.method),
            sources=_joined(self.sources, other.sources),
            recordings=self.recordings + other.recordings,
        )


def _joined(one: tuple[_T, ...], other: tuple[_T, ...]) -> tuple[_T, ...]:
    return tuple(dict.fromkeys((*one, *other)))
