"""A driver for an invented speed probe, which sends rpm as four hexadecimal digits and a semicolon: ``0E10;``.

All that a plugin needs of spinvolt is :mod:`daq.driver_api`; for the port it
may use :mod:`drivers.transports`, as here, or bring its own way.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from daq.driver_api import (
    CardError,
    Clock,
    Driver,
    FoundInstrument,
    Instrument,
    InstrumentCard,
    Quality,
    Quantity,
    Reading,
    Tap,
    TransportDefaults,
    parse_instrument_card,
)
from drivers.transports.link import SerialLink
from drivers.transports.serial_address import check_serial_address
from drivers.transports.stream import StreamInstrument
from drivers.transports.tap import SerialTap

CARD = """
name = "nursery-probe"
title = "Speed probe of the nursery's workshop"
protocol = "nursery-probe"
[[channel]]
quantity = "rotational_speed"
resolution = 1.0
"""
_MESSAGE = re.compile(rb"[0-9A-F]{4}")


class ProbeDecoder:
    """Messages in, readings out; holds four bytes at most."""

    max_frame = 4

    def __init__(self) -> None:
        self._held = b""
        self._skipping = False
        self._skipped = 0
        self._t_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        """Give a reading for each message that ends."""
        self._t_ns = t_ns
        *ended, rest = (self._held + data).split(b";")
        readings: list[Reading] = []
        for message in ended:
            if not self._skipping:
                readings.append(self._reading(message, t_ns))
            self._skipping, self._skipped = False, 0
        return readings + self._unended(rest, t_ns)

    def _unended(self, rest: bytes, t_ns: int) -> list[Reading]:
        """Hold it, or skip it; what goes on for longer than a message is a bad frame, told once."""
        before = self._skipped
        if self._skipping:
            self._held, self._skipped = b"", before + len(rest)
        elif len(rest) > self.max_frame:
            self._held, self._skipping, self._skipped = b"", True, len(rest)
        else:
            self._held = rest
        told = before <= self.max_frame < self._skipped
        return [Reading(0, t_ns, None, Quality.BAD_FRAME)] if told else []

    def flush(self) -> list[Reading]:
        """Give a bad frame for a message that was cut short."""
        cut, self._held, self._skipping, self._skipped = bool(self._held), b"", False, 0
        return [Reading(0, self._t_ns, None, Quality.BAD_FRAME)] if cut else []

    def resync(self) -> None:
        """Skip up to the next semicolon."""
        self._held, self._skipping, self._skipped = b"", True, 0

    def _reading(self, message: bytes, t_ns: int) -> Reading:
        if _MESSAGE.fullmatch(message) is None:
            return Reading(0, t_ns, None, Quality.BAD_FRAME)
        return Reading(0, t_ns, float(int(message, 16)))


class ProbeDriver(Driver):
    """The plugin."""

    name = "nursery-probe"

    def cards(self) -> Sequence[InstrumentCard]:
        """One card."""
        return (parse_instrument_card(CARD, origin="nursery_probe.py"),)

    def check(self, card: InstrumentCard) -> None:
        """It has no settings and measures speed alone."""
        if card.settings:
            raise CardError(f"Instrument card {card.name}: protocol {self.name} has no [settings].")
        if [channel.quantity for channel in card.channel] != [Quantity.ROTATIONAL_SPEED]:
            raise CardError(f"Instrument card {card.name}: protocol {self.name} has one channel, of speed.")

    async def discover(self, seconds: float) -> Sequence[FoundInstrument]:
        """The workshop's probes all hang behind one device server."""
        return [FoundInstrument("socket://127.0.0.1:7000", "Nursery probe", cards=(self.name,))]

    def decoder(self, card: InstrumentCard) -> ProbeDecoder:
        """For `spinvolt ports --listen`."""
        return ProbeDecoder()

    def tap(self, address: str, line: TransportDefaults, clock: Clock) -> Tap:
        """The same lines as ours."""
        return SerialTap(address, line, clock)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        """A serial port or a TCP address."""
        check_serial_address(address)
        link = SerialLink(address, card.transport, clock)
        return StreamInstrument(link, ProbeDecoder(), 1, "four hexadecimal digits and a semicolon")


DRIVER = ProbeDriver()
