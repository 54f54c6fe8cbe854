"""A trial reading that goes on: one instrument with one card, read as a capture would, until it is called off."""

from __future__ import annotations

from collections.abc import Callable

from daq.cards.instrument import InstrumentCard
from daq.driver_api import Driver
from daq.errors import TransportError
from daq.finding.entries import Example, Listened, Live
from daq.model.clock import Clock
from daq.model.reading import Quality, Reading

__all__ = ["read_live"]

_EVERY_NS = 200_000_000
"""Told no more often than an eye can follow."""


async def read_live(
    address: str, card: InstrumentCard, driver: Driver, clock: Clock, tell: Callable[[Live], None]
) -> Listened:
    """Read until the link is lost or the task is cancelled; the instrument is closed in any case.

    Args:
        address: as the user gave it.
        card: the instrument's, its line as it was heard.
        driver: the card's.
        clock: stamps.
        tell: takes the newest readings.

    Returns:
        Why there is nothing more to read.

    Raises:
        UsageError: the card's instrument can't be at such an address.
    """
    instrument = driver.connect(card, address, clock)
    newest: dict[int, Reading] = {}
    told_ns = clock.now_ns() - _EVERY_NS
    try:
        async with instrument:
            while True:
                for reading in await instrument.receive():
                    newest[reading.channel] = reading
                if clock.now_ns() - told_ns >= _EVERY_NS:
                    told_ns = clock.now_ns()
                    tell(_live(card, newest))
    except TransportError as error:
        return Listened(address, trouble=str(error))


def _live(card: InstrumentCard, newest: dict[int, Reading]) -> Live:
    """The newest of each channel: its value, or what is the matter with it."""
    examples, words = [], []
    for number, reading in sorted(newest.items()):
        quantity = card.channel[number].quantity
        if reading.quality is Quality.GOOD and reading.value is not None:
            examples.append(Example(quantity.value, reading.value, quantity.unit))
        else:
            words.append(reading.quality.words)
    return Live(tuple(examples), ", ".join(dict.fromkeys(words)))
