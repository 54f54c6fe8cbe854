"""The pauses between tries to reach an instrument, on a clock that is moved by hand."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence

from daq.capture.supervise import FIRST_PAUSE_S, LONGEST_PAUSE_S, Supervisor
from daq.driver_api import (
    ChannelCard,
    Clock,
    Driver,
    Instrument,
    InstrumentCard,
    InstrumentStatus,
    ManualClock,
    Quality,
    Quantity,
    Reading,
    TransportError,
    TransportReason,
)

CARD = InstrumentCard("probe", "a probe", "scripted", (ChannelCard(Quantity.AC_VOLTAGE),))
ABSENT, OPENS_ONLY, JUNK, GOOD, SENSELESS = "absent", "opens only", "junk", "good", "senseless"


class _PausesKept(ManualClock):
    def __init__(self) -> None:
        super().__init__()
        self.pauses_s: list[float] = []

    async def sleep(self, seconds: float) -> None:
        self.pauses_s.append(seconds)
        await super().sleep(seconds)


class _Scripted(Instrument):
    def __init__(self, part: str, clock: Clock) -> None:
        self.status = InstrumentStatus(awaited="a reading")
        self._part = part
        self._clock = clock

    async def open(self) -> None:
        if self._part == SENSELESS:
            raise TransportError("no address", reason=TransportReason.BAD_ADDRESS, address="here")
        if self._part == ABSENT:
            raise TransportError("not there", reason=TransportReason.NOT_FOUND, address="here")

    async def receive(self) -> list[Reading]:
        part, self._part = self._part, OPENS_ONLY
        if part == GOOD:
            return [Reading(0, self._clock.now_ns(), 19.6)]
        if part == JUNK:
            return [Reading(0, self._clock.now_ns(), None, Quality.BAD_FRAME)]
        raise TransportError("gone", reason=TransportReason.LINK_LOST, address="here")

    async def aclose(self) -> None:
        return


class _Script(Driver):
    """Each connection plays the next part."""

    name = "scripted"

    def __init__(self, parts: Sequence[str]) -> None:
        self._parts = list(parts)

    def cards(self) -> Sequence[InstrumentCard]:
        return (CARD,)

    def check(self, card: InstrumentCard) -> None:
        return

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        return _Scripted(self._parts.pop(0), clock)


async def pauses_s(
    *parts: str, on_event: Callable[[str, str], None] = lambda kind, text: None
) -> list[float]:
    """The pauses after each part; the run ends by itself at an address that makes no sense."""
    clock = _PausesKept()
    supervisor = Supervisor(
        "probe", CARD, "here", _Script([*parts, SENSELESS]), clock, lambda readings: None, on_event
    )
    async with asyncio.timeout(30):
        await supervisor.run()
    assert supervisor.senseless
    return clock.pauses_s


async def test_each_pause_is_twice_the_one_before_up_to_ten_seconds() -> None:
    assert (FIRST_PAUSE_S, LONGEST_PAUSE_S) == (0.5, 10.0)
    assert await pauses_s(*[ABSENT] * 8) == [0.5, 1.0, 2.0, 4.0, 8.0, 10.0, 10.0, 10.0]


async def test_a_useful_reading_makes_the_pause_short_again() -> None:
    assert await pauses_s(ABSENT, ABSENT, ABSENT, GOOD, ABSENT) == [0.5, 1.0, 2.0, 0.5, 1.0]


async def test_neither_opening_alone_nor_junk_makes_the_pause_short_again() -> None:
    assert await pauses_s(ABSENT, OPENS_ONLY, JUNK, ABSENT) == [0.5, 1.0, 2.0, 4.0]


async def test_how_long_it_was_gone_is_told_with_the_pauses_in_it() -> None:
    told: list[tuple[str, str]] = []
    await pauses_s(GOOD, ABSENT, ABSENT, GOOD, on_event=lambda kind, text: told.append((kind, text)))
    assert [kind for kind, _ in told] == ["link_lost", "link_back", "link_lost"]
    assert told[1][1] == "probe (here) is connected again, after 3.5 s."
