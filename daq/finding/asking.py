"""Asking, gently: one card after the other, and no more once one protocol has answered."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence

from daq.cards.instrument import InstrumentCard, TransportDefaults
from daq.driver_api import Driver, Instrument
from daq.errors import CardError, TransportError, TransportReason
from daq.finding.entries import Heard, Tried, shown_bytes
from daq.finding.score import Tally
from daq.model.clock import Clock
from daq.model.quantity import Quantity

__all__ = ["ask_cards"]

_ENOUGH_READINGS = 4
_ANSWERING_SPELLS = 3
"""Times as long for an instrument that has begun to answer."""
_ENDS_ALL = {
    TransportReason.NOT_FOUND,
    TransportReason.BUSY,
    TransportReason.NOT_PERMITTED,
    TransportReason.UNREACHABLE,
    TransportReason.UNAVAILABLE,
    TransportReason.BAD_ADDRESS,
}
"""The next card would fare no better."""


async def ask_cards(
    address: str,
    cards: Sequence[tuple[InstrumentCard, Driver]],
    clock: Clock,
    seconds: float,
    say: Callable[[str], None],
    tried: list[Tried],
    *,
    each: bool,
    talks: bool,
    end_ns: int,
) -> list[Heard]:
    """Ask with one card after the other until an instrument answers well; ``tried`` gets a line on each.

    The first that does ends it, unless these cards were asked for: another
    card's question would switch the instrument to another function.

    Args:
        address: as the user gave it.
        cards: cards whose instruments must be asked, and their drivers.
        clock: stamps.
        seconds: how long to wait for an answer.
        say: takes sentences on what is being done.
        tried: gets a line on each card.
        each: ask with all of them, whatever answers.
        talks: something came unasked, so what comes during the asking need not be the beginning of an answer.
        end_ns: no card but the first begins to ask after this.

    Raises:
        TransportError: the address can't be reached at all.
    """
    heard: list[Heard] = []
    mute: set[tuple[str, TransportDefaults, str]] = set()
    asked = False
    for card, driver in sorted(cards, key=lambda pair: _order(pair[0])):
        if not each and any(one.is_good for one in heard):
            tried.append(Tried(f"not asked with {card.name}, since one has answered", 0))
            continue
        instrument = driver.connect(card, address, clock)
        question = (card.protocol, card.transport, instrument.status.awaited)
        if question in mute:
            tried.append(Tried(f"not asked with {card.name}, whose first question got no answer before", 0))
            continue
        if asked and clock.now_ns() >= end_ns:
            tried.append(Tried(f"not asked with {card.name}, since the time was up", 0))
            continue
        asked = True
        say(f"Asking at {address} with card {card.name} ...")
        try:
            one = await _ask(card, instrument, seconds, tried, spells=1 if talks else _ANSWERING_SPELLS)
        except (TransportError, CardError) as error:
            if isinstance(error, TransportError) and error.reason in _ENDS_ALL:
                raise
            tried.append(Tried(f"asked with {card.name}: {error}", 0))
            continue
        if one is not None:
            heard.append(one)
        elif not instrument.status.bytes_received:
            mute.add(question)
    return heard


def _order(card: InstrumentCard) -> tuple[bool, bool]:
    """Text before binary, which a text instrument would take for junk; AC volts, the usual task, first."""
    return card.protocol != "scpi", card.channel[0].quantity is not Quantity.AC_VOLTAGE


async def _ask(
    card: InstrumentCard, instrument: Instrument, seconds: float, tried: list[Tried], *, spells: int
) -> Heard | None:
    tally, status = Tally(card), instrument.status
    try:
        await instrument.open()
        for _ in range(spells):
            try:
                async with asyncio.timeout(seconds):
                    while tally.good < _ENOUGH_READINGS:
                        tally.add(await instrument.receive())
            except TimeoutError:
                if not status.bytes_received:
                    break
    finally:
        await instrument.aclose()
    tried.append(Tried(f"asked with {card.name}", status.bytes_received, shown_bytes(status.last_bytes)))
    if not tally.understood:
        return None
    share = tally.understood / (tally.understood + tally.bad + status.timeouts)
    return tally.heard(share, card.transport, asked=True)
