"""Listening at one address: first without a word, then, if nothing was understood, by asking."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import NamedTuple

import msgspec

from daq.cards.instrument import InstrumentCard, TransportDefaults
from daq.driver_api import Arrived, Driver, Tap
from daq.errors import SpinvoltError, TransportError, UsageError
from daq.finding.asking import ask_cards
from daq.finding.bench_port import is_bench_card, is_bench_port
from daq.finding.entries import (
    MOST_SPELLS,
    Heard,
    Listened,
    Tried,
    line_words,
    shown_bytes,
)
from daq.finding.plan import lines_to_try, of_one_supply
from daq.finding.score import best_first, heard_bytes
from daq.model.clock import Clock
from daq.registry import Registry

__all__ = ["listen_at"]

_ENOUGH_BYTES = 6000
_LINE_IS_RIGHT = 0.9
"""Share of the bytes that no wrong speed would leave understood, whatever the readings are worth."""
_SPEAKS = 0.5
"""From this share on it is an instrument that speaks by itself, and is not asked."""
_QUIET_START_NS = 50_000_000
Say = Callable[[str], None]


class _Spell(NamedTuple):
    """What came during one spell of listening."""

    pieces: list[Arrived]
    in_step: bool


async def listen_at(
    address: str,
    cards: Sequence[InstrumentCard],
    registry: Registry,
    clock: Clock,
    seconds: float,
    say: Say,
    *,
    each: bool = False,
) -> Listened:
    """Listen, and ask where that is needed.

    Args:
        address: as the user gave it.
        cards: those to try.
        registry: their drivers.
        clock: stamps.
        seconds: for each line setting.
        say: takes sentences on what is being done.
        each: ask with every card that asks, also when one of them has been answered.

    Raises:
        UsageError: no card's instrument can be at such an address.
    """
    fitting, of_bench = _fitting(address, cards, registry, clock), is_bench_port(address)
    end_ns = clock.now_ns() + round(MOST_SPELLS * seconds * 1e9)
    spoken = [(card, driver) for card, driver in fitting if driver.decoder(card) is not None]
    # Unless they were named, the bench's cards ask no instrument that is not the bench's.
    asked = [
        (card, driver)
        for card, driver in fitting
        if driver.decoder(card) is None and (each or of_bench or not is_bench_card(card))
    ]
    ear = _Ear(address, clock, seconds, say, end_ns)
    try:
        heard = await ear.listen(fitting, spoken)
        if asked and not any(one.share >= _SPEAKS for one in heard):
            heard += await ask_cards(
                address, asked, clock, seconds, say, ear.tried, each=each, talks=ear.talks, end_ns=end_ns
            )
    except TransportError as error:
        return Listened(address, _ranked(ear.heard, cards, of_bench), tuple(ear.tried), str(error))
    return Listened(address, _ranked(heard, cards, of_bench), tuple(ear.tried))


def _ranked(heard: Sequence[Heard], cards: Sequence[InstrumentCard], of_bench: bool) -> tuple[Heard, ...]:
    """Best first. The bench's cards come last, and are not good, where no running bench has the port."""
    if of_bench:
        return best_first(heard)
    benches = {card.name for card in cards if is_bench_card(card)}
    remark = (
        "it states the limits of the virtual bench's own instrument, and no bench that runs has this port"
    )
    return best_first(one for one in heard if one.card not in benches) + best_first(
        msgspec.structs.replace(one, remarks=(*one.remarks, remark)) for one in heard if one.card in benches
    )


def _fitting(
    address: str, cards: Sequence[InstrumentCard], registry: Registry, clock: Clock
) -> list[tuple[InstrumentCard, Driver]]:
    """The cards that take such an address; connecting does no I/O yet."""
    if address == "keyboard":
        raise UsageError(
            "There is nothing to listen to at the keyboard: give a port, such as /dev/ttyUSB0, or ble:ADDRESS."
        )
    fitting: list[tuple[InstrumentCard, Driver]] = []
    refusal: SpinvoltError | None = None
    for card in cards:
        driver = registry.driver(card.protocol)
        try:
            driver.connect(card, address, clock)
        except UsageError as error:
            refusal = error
        else:
            fitting.append((card, driver))
    if not fitting:
        raise UsageError(str(refusal or f"There is no card for an instrument at {address}."))
    return fitting


class _Ear:
    """Opens the line at one setting after the other until a card understands what comes."""

    def __init__(self, address: str, clock: Clock, seconds: float, say: Say, end_ns: int) -> None:
        self.tried: list[Tried] = []
        self.heard: list[Heard] = []
        self._address = address
        self._clock = clock
        self._seconds = seconds
        self._say = say
        self._end_ns = end_ns

    @property
    def talks(self) -> bool:
        """Whether something came by itself."""
        return any(one.bytes_received for one in self.tried)

    async def listen(
        self,
        fitting: Sequence[tuple[InstrumentCard, Driver]],
        spoken: Sequence[tuple[InstrumentCard, Driver]],
    ) -> list[Heard]:
        """Gives the best each card could make of it."""
        silent: set[TransportDefaults] = set()
        for line in lines_to_try(self._address, [card.transport for card, _ in spoken or fitting]):
            tap = next(filter(None, (d.tap(self._address, line, self._clock) for _, d in fitting)), None)
            if tap is None:
                return []
            if of_one_supply(line) in silent:
                continue
            if self._clock.now_ns() >= self._end_ns:
                break
            self._say(f"Listening at {self._address}, {line_words(line)} ...")
            spell = await self._spell(tap)
            came = b"".join(piece.data for piece in spell.pieces)
            self.tried.append(Tried(line_words(line), len(came), shown_bytes(came)))
            if not came:
                silent.add(of_one_supply(line))
            self.heard = _better(self.heard, _judge(spell, spoken, line))
            if any(one.share >= _LINE_IS_RIGHT for one in self.heard):
                break
        return self.heard

    async def _spell(self, tap: Tap) -> _Spell:
        pieces: list[Arrived] = []
        try:
            await tap.open()
            opened_ns = self._clock.now_ns()
            try:
                async with asyncio.timeout(self._seconds):
                    while sum(len(piece.data) for piece in pieces) < _ENOUGH_BYTES:
                        pieces += await tap.receive()
            except TimeoutError:
                pass
        finally:
            await tap.aclose()
        in_step = bool(pieces) and pieces[0].t_ns - opened_ns >= _QUIET_START_NS
        return _Spell(pieces, in_step)


def _judge(
    spell: _Spell, spoken: Sequence[tuple[InstrumentCard, Driver]], line: TransportDefaults
) -> list[Heard]:
    heard: list[Heard] = []
    for card, driver in spoken:
        decoder = driver.decoder(card)
        if decoder is not None and spell.pieces:
            score = heard_bytes(card, decoder, spell.pieces, line, in_step=spell.in_step)
            heard += [] if score is None else [score]
    return heard


def _better(before: Sequence[Heard], now: Sequence[Heard]) -> list[Heard]:
    """Each card once, where it understood most."""
    best: dict[str, Heard] = {}
    for one in best_first([*before, *now]):
        best.setdefault(one.card, one)
    return list(best.values())
