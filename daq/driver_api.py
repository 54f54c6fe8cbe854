"""The driver contract: everything a plugin needs, and the only core module it may import.

A plugin is an object of a :class:`Driver` subclass, named by an entry point in
the group ``spinvolt.drivers``. A driver splits in two::

    transport ── (bytes, t_ns) ──▶ decoder ── list[Reading] ──▶ capture
    I/O, stamps where bytes arrive    pure: no I/O, no clock, no logging

Who owns the stamp: the transport, in the thread or callback where the bytes
arrived. The decoder only passes it on. Nothing after it may change it.

What cancelling does: every ``await`` of an :class:`Instrument` may be
cancelled at any time; ``aclose`` then still has to be called, must end within
one second, may be called twice, and leaves no task and no thread behind.

New methods of the contract come with a default, so that drivers from
elsewhere keep loading; ``DRIVER_API_VERSION`` rises when they can't.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Sequence
from typing import Protocol, Self

import msgspec

from daq.cards.faults import card_fault_words
from daq.cards.instrument import (
    Accuracy,
    ChannelCard,
    InstrumentCard,
    Response,
    TransportDefaults,
    parse_instrument_card,
)
from daq.errors import CardError, DriverError, SpinvoltError, TransportError, TransportReason, UsageError
from daq.model.clock import Clock, ManualClock, SystemClock
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading

__all__ = [
    "DRIVER_API_VERSION",
    "Accuracy",
    "Arrived",
    "CardError",
    "ChannelCard",
    "Clock",
    "Decoder",
    "Driver",
    "DriverError",
    "FoundInstrument",
    "Instrument",
    "InstrumentCard",
    "InstrumentStatus",
    "ManualClock",
    "Quality",
    "Quantity",
    "Reading",
    "Response",
    "SpinvoltError",
    "SystemClock",
    "Tap",
    "TransportDefaults",
    "TransportError",
    "TransportReason",
    "UsageError",
    "card_fault_words",
    "parse_instrument_card",
]

DRIVER_API_VERSION = 1


class Decoder(Protocol):
    """Turns bytes into readings; pure, incremental, bounded.

    A decoder never raises on what an instrument sends. Bytes that are no
    reading become one reading of quality ``BAD_FRAME`` for each bad frame; it
    finds its feet again after junk; it holds at most ``max_frame`` bytes.
    """

    max_frame: int

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        """Take in bytes that arrived at ``t_ns`` and give the readings they complete, oldest first."""
        ...

    def flush(self) -> list[Reading]:
        """The link has ended: give what an unfinished frame is worth (a ``BAD_FRAME``) and start afresh."""
        ...


class InstrumentStatus(msgspec.Struct):
    """What the capture tells of a connection when something is wrong. Counts only ever rise."""

    bytes_received: int = 0
    bytes_lost: int = 0
    """Bytes dropped because a bounded queue was full; each loss is also a reading of quality ``LOST``."""
    bad_frames: int = 0
    last_bytes: bytes = b""
    """The newest bytes seen, at most 64, for the sentence that tells what came."""
    timeouts: int = 0
    """Answers that did not come in time, of an instrument that is asked."""
    awaited: str = "a reading"
    """What is being waited for, in words: "an answer to MEAS:VOLT:AC?"."""
    remarks: list[str] = []
    """Sentences for the recording (what the instrument is, what it refused); whoever writes them empties it."""


class Instrument(ABC):
    """An open or openable connection to one instrument. Use it as an async context manager.

    Attributes:
        status: kept up to date by the driver.
    """

    status: InstrumentStatus

    @abstractmethod
    async def open(self) -> None:
        """Open the way to the instrument and set it up.

        Raises:
            TransportError: with its reason; the instrument is closed again.
        """

    @abstractmethod
    async def receive(self) -> list[Reading]:
        """Wait for the next readings, at least one, oldest first.

        Raises:
            TransportError: reason ``LINK_LOST`` when the link has gone. What had
                been received before is returned first.
        """

    @abstractmethod
    async def aclose(self) -> None:
        """Close; at any time, any number of times, within one second. A lost link is no error here."""

    def typed(self, line: str, t_ns: int) -> list[Reading]:
        """Take a line a person typed for this instrument. Only keyed-in instruments override it."""
        return []

    async def __aenter__(self) -> Self:
        await self.open()
        return self

    async def __aexit__(self, *exc_info: object) -> None:
        await self.aclose()


class FoundInstrument(msgspec.Struct, frozen=True):
    """Something in reach that may be an instrument, for ``spinvolt ports``."""

    address: str
    """As it goes behind the ``@`` of ``-i CARD@ADDRESS``."""
    name: str
    """What it calls itself; empty where it gives no name."""
    details: tuple[str, ...] = ()
    """What else it says of itself, in words."""
    signal_dbm: int | None = None
    """How strongly it is received, where it comes by radio."""
    cards: tuple[str, ...] = ()
    """Built-in cards that could fit it; most likely first."""
    in_use_by: str = ""
    """The program that holds it open, in words; empty where none is known to."""


class Arrived(Protocol):
    """Bytes that arrived together on a line that is only listened to."""

    @property
    def data(self) -> bytes:
        """The bytes."""
        ...

    @property
    def t_ns(self) -> int:
        """Stamped where they arrived."""
        ...


class Tap(Protocol):
    """A line that is only listened to: nothing is ever sent on it."""

    async def open(self) -> None:
        """Open the line.

        Raises:
            TransportError: with its reason; nothing is left open.
        """
        ...

    async def receive(self) -> Sequence[Arrived]:
        """Wait for bytes and take all there are; TransportError when the link has gone."""
        ...

    async def aclose(self) -> None:
        """Close within a second; any number of times."""
        ...


class Driver(ABC):
    """A plugin: one protocol, its built-in cards, and the way to connect.

    Attributes:
        name: the protocol's name, as cards give it.
        api_version: the contract it was written for.
    """

    name: str
    api_version: int = DRIVER_API_VERSION

    def cards(self) -> Sequence[InstrumentCard]:
        """The cards that come with the driver."""
        return ()

    @abstractmethod
    def check(self, card: InstrumentCard) -> None:
        """Check a card's ``settings`` and channels.

        Raises:
            CardError: naming the key and what would be accepted.
        """

    @abstractmethod
    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        """Make the connection object; no I/O yet.

        Args:
            card: checked before.
            address: as the user gave it: a port, a URL, ``ble:…`` or ``keyboard``.
            clock: stamps come from ``clock.now_ns()``.

        Raises:
            CardError: the card does not fit this protocol.
            UsageError: the address can't be one for this protocol.
        """

    async def discover(self, seconds: float) -> Sequence[FoundInstrument]:
        """Look for instruments in reach, for about that long; most drivers have no way to and find none.

        Raises:
            TransportError: looking is not possible on this computer; says why and what to do.
        """
        return ()

    def decoder(self, card: InstrumentCard) -> Decoder | None:
        """A fresh decoder for what such an instrument sends unasked; None where it must be asked, or has no line.

        Raises:
            CardError: the card does not fit this protocol.
        """
        return None

    def tap(self, address: str, line: TransportDefaults, clock: Clock) -> Tap | None:
        """A line to listen to, set as ``line`` says, for :meth:`decoder`'s bytes; None where there is no such thing.

        Raises:
            UsageError: the address can't be one for this protocol.
        """
        return None

    def fits(self, card: InstrumentCard, found: FoundInstrument) -> bool:
        """Whether a card of this protocol, built in or the user's own, could fit what :meth:`discover` found."""
        return bool(found.cards)
