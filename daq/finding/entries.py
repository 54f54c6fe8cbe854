"""What finding says and is told: plain values, which also go over the pipe between the two processes."""

from __future__ import annotations

import msgspec

from daq.cards.instrument import TransportDefaults
from daq.driver_api import FoundInstrument

__all__ = [
    "DEFAULT_LISTEN_S",
    "DEFAULT_LOOK_S",
    "MOST_SPELLS",
    "Example",
    "Failed",
    "Found",
    "Heard",
    "Listened",
    "Live",
    "Message",
    "Progress",
    "Request",
    "Tried",
    "line_words",
    "shown_bytes",
]

DEFAULT_LOOK_S = 4.0
DEFAULT_LISTEN_S = 3.0
MOST_SPELLS = 15
"""Listening and asking at one address end after so many times the seconds that were given."""
_SAMPLE_BYTES = 64


class Found(msgspec.Struct, frozen=True, tag="found"):
    """What is in reach."""

    instruments: tuple[FoundInstrument, ...] = ()
    """One for each address; serial ports first, then what comes by radio, strongest first. ``cards`` holds the
    user's own too, the likeliest first."""
    remarks: tuple[str, ...] = ()
    """Why somewhere could not be looked ("Bluetooth isn't available here: ..."). Not an error."""


class Example(msgspec.Struct, frozen=True):
    """The newest value of one channel."""

    quantity: str
    value: float
    unit: str


class Heard(msgspec.Struct, frozen=True):
    """How well one card understands what came."""

    card: str
    title: str
    line: TransportDefaults
    """How the line was set when it was understood."""
    line_of_card: bool
    """Whether that is what the card says; else a copy of the card needs this line."""
    share: float
    """Share of the bytes that were understood, 0 to 1; of the answers, where the instrument is asked."""
    readings: int
    """Readings that were good."""
    readings_per_s: float
    examples: tuple[Example, ...] = ()
    """One for each channel that gave a value."""
    remarks: tuple[str, ...] = ()
    """What does not add up: a wrong function, overload, values that no such instrument shows."""
    asked: bool = False
    """The instrument was asked; the others spoke by themselves."""

    @property
    def is_good(self) -> bool:
        """Whether the card can be recommended: nearly all was understood and nothing speaks against it."""
        return self.share >= 0.9 and self.readings > 0 and not self.remarks


class Tried(msgspec.Struct, frozen=True):
    """One way of listening."""

    line: str
    """In words: "9600 baud, 8N1", or "asked with scpi-meter"."""
    bytes_received: int
    sample: str = ""
    """The newest bytes, at most 64, those that are no printable text as backslash escapes."""


class Listened(msgspec.Struct, frozen=True, tag="listened"):
    """What was heard at one address."""

    address: str
    heard: tuple[Heard, ...] = ()
    """Cards that understood something; the best first."""
    tried: tuple[Tried, ...] = ()
    """In the order in which it was listened."""
    trouble: str = ""
    """Why it could not be listened to, in a sentence that says what to do; empty where it could."""


class Live(msgspec.Struct, frozen=True, tag="live"):
    """The newest readings of an instrument that is being read."""

    examples: tuple[Example, ...] = ()
    """One for each channel whose newest reading is good."""
    words: str = ""
    """What is the matter with the others: "overload"."""


class Progress(msgspec.Struct, frozen=True, tag="progress"):
    """What is being done now, in words."""

    text: str


class Failed(msgspec.Struct, frozen=True, tag="failed"):
    """Finding could not be done at all."""

    text: str
    usage: bool = False
    """What was asked for made no sense."""


Message = Found | Listened | Live | Progress | Failed


class Request(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What the finding process is told: look around, or listen where an address is given."""

    seconds: float
    address: str | None = None
    cards: tuple[str, ...] = ()
    """Names or files; none: all there are."""
    line: TransportDefaults | None = None
    """Read on with the one card and this line, until the input ends."""


def shown_bytes(data: bytes) -> str:
    """Bytes as printable text, the others as backslash escapes."""
    return repr(data[-_SAMPLE_BYTES:])[2:-1]


def line_words(line: TransportDefaults) -> str:
    """A line's settings as people write them: "9600 baud, 8N1"."""
    levels = [
        f"{name.upper()} {'up' if level else 'down'}"
        for name, level in (("dtr", line.dtr), ("rts", line.rts))
        if level is not None
    ]
    frame = f"{line.bytesize}{line.parity[0].upper()}{line.stopbits}"
    return ", ".join([f"{line.baud} baud", frame, *levels])
