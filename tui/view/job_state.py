"""What the job screen shows, as plain words and tones."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from tui.view.state import Tone

__all__ = ["JobView", "NextKind", "NextThing", "Role", "Section", "Sentence", "StepRow"]

Role = Literal["text", "strong", "dim"] | Tone
"""How a sentence is drawn; the widgets' own names."""

NextKind = Literal["record", "type", "repair", "report", "take"]


class Sentence(NamedTuple):
    """A sentence, broken into rows where it is drawn."""

    text: str
    role: Role = "text"
    mark: str = ""
    """What stands before it: a shape, a number, "!"."""


@dataclass(frozen=True)
class Section:
    """Sentences under a title."""

    title: str
    sentences: tuple[Sentence, ...]


@dataclass(frozen=True)
class StepRow:
    """One test in the list."""

    name: str
    shape: str
    title: str
    """Without its details."""
    words: str
    """Its state in a word or two."""
    short: str
    """Its state in four letters at most, for a list that has no room for more."""
    tone: Tone
    chosen: bool
    """It is the one that is shown in full."""
    next: bool
    """It is the next one to do."""


@dataclass(frozen=True)
class NextThing:
    """The obvious next thing, which Enter does."""

    kind: NextKind
    sentence: str
    """What Enter does, in words."""
    step: str = ""
    slots: tuple[str, ...] = ()
    """The readings that are taken."""
    title: str = ""
    """Of what is done."""
    ready: tuple[Section, ...] = ()
    """What must be seen to before it is done: cautions, set-up, where leads and dial go."""
    example: str = ""
    """What a typed reading looks like."""


@dataclass(frozen=True)
class JobView:
    """Everything the job screen shows."""

    heading: str
    status: str
    answer: tuple[Sentence, ...]
    """Can it carry its loads, what is at fault, is the repair proven; the headline first."""
    rows: tuple[StepRow, ...]
    step: tuple[Section, ...]
    """The chosen test in full."""
    found: tuple[Section, ...]
    """What was found so far: verdicts, faults, the charge answer."""
    next: NextThing
    skippable: bool = False
    """The chosen test can be left out."""
    finished: bool = field(default=False)
    """Nothing is left to be done."""
