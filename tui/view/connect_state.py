"""What is known while instruments are looked for and tried, and what the connect screen shows of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from tui.view.job_state import Section
from tui.view.state import Tone

if TYPE_CHECKING:
    from daq.finding import FoundInstrument, Listened, Live
    from tui.remembered import Used

__all__ = ["KEYBOARD", "ConnectKind", "ConnectRow", "ConnectState", "ConnectView", "Trial"]

KEYBOARD = "keyboard"
"""The address of a person who types readings."""

ConnectKind = Literal["listen", "take", "start", "wait"]


@dataclass(frozen=True)
class Trial:
    """A trial reading: going on, or done."""

    progress: str = ""
    """What is being done; "" once it is done."""
    heard: Listened | None = None
    card: int = 0
    """Which of the cards that understood something."""
    live: Live | None = None
    """What it reads at this moment; None where it is not being read."""
    lost: str = ""
    """Why it is not read any more, though nobody called that off."""


@dataclass(frozen=True)
class ConnectState:
    """Everything that is known."""

    found: tuple[FoundInstrument, ...] = ()
    remarks: tuple[str, ...] = ()
    looking: bool = True
    extra: tuple[Used, ...] = ()
    """Instruments of last time, and addresses that were typed (without a card)."""
    trials: dict[str, Trial] = field(default_factory=dict)
    """By address."""
    chosen: tuple[Used, ...] = ()
    selected: str = ""
    """The address under the cursor."""
    machine: str = ""
    trouble: str = ""
    """What is wrong with what was remembered."""
    choose_only: bool = False
    """No run is started here: the instruments are told to whoever asked."""


@dataclass(frozen=True)
class ConnectRow:
    """One address."""

    address: str
    shape: str
    name: str
    words: str
    """The trial reading, or how far it is."""
    tone: Tone
    selected: bool


@dataclass(frozen=True)
class ConnectView:
    """Everything the connect screen shows."""

    heading: str
    status: str
    rows: tuple[ConnectRow, ...]
    detail: tuple[Section, ...]
    chosen: tuple[Section, ...]
    remark: str
    """Why somewhere could not be looked, in one line; or ""."""
    kind: ConnectKind
    """What Enter does."""
    doing: str
    """The same in words."""
    can_start: bool = False
    can_drop: bool = False
    other_cards: bool = False
    """More than one card understood the selected one."""
