"""Instrument cards: what an instrument is and how it answers, as data.

A card is TOML. It can never run code; what stands in its ``[settings]`` is
checked by the driver of its protocol.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from daq.cards.faults import card_fault_words
from daq.cards.tomltext import TomlError, parse_toml
from daq.errors import CardError
from daq.model.quantity import Quantity

__all__ = [
    "Accuracy",
    "ChannelCard",
    "InstrumentCard",
    "Response",
    "TransportDefaults",
    "parse_instrument_card",
]


class TransportDefaults(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How the line is set, where the address does not say. Names as on a serial port."""

    baud: int = 9600
    bytesize: Literal[5, 6, 7, 8] = 8
    parity: Literal["none", "even", "odd", "mark", "space"] = "none"
    stopbits: Literal[1, 2] = 1
    dtr: bool | None = None
    """Level of DTR after opening; None leaves it. Some hand meters take their power from it."""
    rts: bool | None = None


class Response(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a reading answers to what is measured, as far as known (None: not known)."""

    window_s: float | None = None
    """Length of time over which one reading averages."""
    delay_s: float | None = None
    """From the end of that window to the arrival of the reading's bytes."""
    interval_s: float | None = None
    """Usual time between two readings."""
    averaging: Literal["contiguous", "sampled"] | None = None
    """Windows that follow each other without a hole, or one short look now and then."""
    pace: Literal["steady", "on_request"] | None = None
    """Whether it reads at a steady pace of its own, or when it is asked."""


class Accuracy(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The maker's limits: ±(percent of reading + counts of the last digit), rectangular."""

    percent_of_reading: float = 0.0
    counts: float = 0.0


class ChannelCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One channel of an instrument."""

    quantity: Quantity
    name: str | None = None
    scale: float = 1.0
    """What the instrument sends times this is in the quantity's unit."""
    offset: float = 0.0
    """Added after scaling, in the quantity's unit."""
    resolution: float | None = None
    """Last digit, in the quantity's unit; None: read off the digits that come."""
    accuracy: Accuracy | None = None
    response: Response = Response()
    ac_response: Literal["true_rms", "average"] | None = None
    band_hz: tuple[float, float] | None = None
    """Frequencies within which the accuracy holds."""
    marks_per_revolution: int | None = None

    def __post_init__(self) -> None:
        for key, value in (("scale", self.scale), ("offset", self.offset)):
            if not -1e12 < value < 1e12:
                raise ValueError(f"{key} = {value} is absurd")
        if self.scale == 0:
            raise ValueError("scale = 0 would make every reading 0")
        if self.resolution is not None and not 1e-12 <= self.resolution < 1e6:
            raise ValueError(f"resolution = {self.resolution} must be above 0, in {self.quantity.unit}")
        if self.marks_per_revolution is not None and not 1 <= self.marks_per_revolution <= 10_000:
            raise ValueError(f"marks_per_revolution = {self.marks_per_revolution} must be from 1 to 10000")
        for key in ("window_s", "delay_s", "interval_s"):
            seconds = getattr(self.response, key)
            if seconds is not None and not 0 <= seconds <= 60:
                raise ValueError(f"response.{key} = {seconds} must be from 0 to 60 s")
        if self.accuracy is not None and (
            not 0 <= self.accuracy.percent_of_reading <= 100 or not 0 <= self.accuracy.counts <= 1000
        ):
            raise ValueError("accuracy must have percent_of_reading from 0 to 100 and counts from 0 to 1000")


class InstrumentCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What an instrument is: its protocol, its line, its channels."""

    name: str
    """Short name, as in ``-i NAME@ADDRESS``."""
    title: str
    protocol: str
    """Name of the driver that speaks it (entry-point group ``spinvolt.drivers``)."""
    channel: tuple[ChannelCard, ...]
    transport: TransportDefaults = TransportDefaults()
    settings: dict[str, Any] = {}
    """The protocol's own settings, checked by its driver."""
    silence_s: float = 5.0
    """Silence after which the instrument counts as lost."""
    notes: str = ""

    def __post_init__(self) -> None:
        if not self.name or not all(c.isalnum() or c in "-_." for c in self.name):
            raise ValueError(f"name = {self.name!r} may hold letters, digits, '-', '_' and '.' only")
        if not 1 <= len(self.channel) <= 64:
            raise ValueError(f"a card needs 1 to 64 [[channel]] tables, this one has {len(self.channel)}")
        if not 0.1 <= self.silence_s <= 3600:
            raise ValueError(f"silence_s = {self.silence_s} must be from 0.1 to 3600 s")


def parse_instrument_card(text: str, *, origin: str) -> InstrumentCard:
    """Read a card from TOML text.

    Args:
        text: the TOML.
        origin: the file's name, for the error's sentence.

    Raises:
        CardError: with the file, the key and what would be accepted.
    """
    try:
        table = parse_toml(text)
    except TomlError as error:
        raise CardError(f"Instrument card {origin} {error}.") from error
    try:
        return msgspec.convert(table, InstrumentCard)
    except msgspec.ValidationError as error:
        words = card_fault_words(error, InstrumentCard)
        raise CardError(
            f"Instrument card {origin}: {words}. `spinvolt cards scpi-meter` prints a good one."
        ) from error
