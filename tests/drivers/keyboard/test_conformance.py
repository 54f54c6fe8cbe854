"""The shared checks, as far as they fit what is typed; for the others, why not and what is held instead."""

from __future__ import annotations

import asyncio

import pytest

from daq.driver_api import Quality, SystemClock, TransportError, TransportReason, UsageError
from drivers.keyboard import DRIVER
from tests.drivers import conformance
from tests.drivers.conformance import (
    Check,
    checks_its_own_cards_and_keeps_them_as_data,
    closes_any_number_of_times,
    is_cancelled_within_a_second,
)
from tests.drivers.peers import SILENT, Behaviour, Peer

CARD = DRIVER.cards()[0]
FITTING = [
    is_cancelled_within_a_second,
    closes_any_number_of_times,
    checks_its_own_cards_and_keeps_them_as_data,
]
_BY_HAND = "readings come by typed(), handed over by the capture, never by receive(): no peer can send them; "
UNFIT: dict[Check, str] = {
    conformance.opens_and_yields: _BY_HAND + "test_opens_and_yields_what_is_typed holds it",
    conformance.loses_no_reading_when_cancelled: _BY_HAND
    + "test_a_cancelled_wait_loses_nothing_that_is_typed holds it",
    conformance.survives_unplugging: "there is no plug; test_its_end_is_told_each_time holds what its closing tells",
    conformance.connects_again_after_a_loss: _BY_HAND
    + "test_opens_and_yields_what_is_typed connects more than once",
    conformance.is_told_of_a_place_that_is_not_there: "there is one keyboard, and any other address is a wrong use; "
    "test_another_address_is_refused holds it",
    conformance.shows_junk_as_bad_frames: _BY_HAND + "test_what_makes_no_sense_is_a_bad_frame holds it",
    conformance.shows_a_spoiled_message_as_a_bad_frame: _BY_HAND
    + "test_what_makes_no_sense_is_a_bad_frame holds it",
}


class Person(Peer):
    """Someone at the keyboard, who types nothing."""

    def __init__(self, behaviour: Behaviour) -> None:
        super().__init__(behaviour)
        self.address = "keyboard"

    def _line(self) -> int | None:
        self._stop.wait(0.01)
        return None

    def _hang_up(self) -> None:
        return


@pytest.mark.parametrize("check", FITTING, ids=lambda check: check.__name__)
async def test_conformance(check: Check) -> None:
    await check(DRIVER, CARD, SILENT, Person)


async def test_opens_and_yields_what_is_typed() -> None:
    clock = SystemClock()
    for _ in range(2):
        async with DRIVER.connect(CARD, "keyboard", clock) as keyboard:
            readings = [r for n in range(5) for r in keyboard.typed(f"19.{n} 3580", clock.now_ns())]
        assert [r.channel for r in readings] == [0, 1] * 5
        assert {r.quality for r in readings} == {Quality.GOOD}
        assert keyboard.status.bytes_received == 45


async def test_a_cancelled_wait_loses_nothing_that_is_typed() -> None:
    clock = SystemClock()
    async with DRIVER.connect(CARD, "keyboard", clock) as keyboard:
        values: list[float | None] = []
        for n in range(5):
            waiting = asyncio.create_task(keyboard.receive())
            await asyncio.sleep(0)
            values += [r.value for r in keyboard.typed(f"19.{n} 3580", clock.now_ns()) if r.channel == 0]
            waiting.cancel()
            with pytest.raises(asyncio.CancelledError):
                await waiting
    assert values == [19.0, 19.1, 19.2, 19.3, 19.4]


async def test_its_end_is_told_each_time() -> None:
    keyboard = DRIVER.connect(CARD, "keyboard", SystemClock())
    await keyboard.open()
    await keyboard.aclose()
    for _ in range(2):
        with pytest.raises(TransportError) as caught:
            await keyboard.receive()
        assert caught.value.reason is TransportReason.LINK_LOST


def test_another_address_is_refused() -> None:
    with pytest.raises(UsageError, match="keyboard-pair@keyboard"):
        DRIVER.connect(CARD, "/dev/ttyUSB0", SystemClock())


@pytest.mark.parametrize("line", ["qwertz", "19.6x 3580", "19.6 3580 7", "3,580 19.6"])
async def test_what_makes_no_sense_is_a_bad_frame(line: str) -> None:
    async with DRIVER.connect(CARD, "keyboard", SystemClock()) as keyboard:
        readings = keyboard.typed(line, 1)
        assert readings
        assert {(r.value, r.quality) for r in readings} == {(None, Quality.BAD_FRAME)}
        assert keyboard.status.bad_frames == len(readings)
        assert keyboard.status.remarks
