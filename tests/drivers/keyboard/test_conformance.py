"""The shared checks, as far as they fit what is typed: there is no line to unplug and no bytes to garble."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import pytest

from daq.driver_api import Quality, SystemClock
from drivers.keyboard import DRIVER
from tests.drivers.conformance import (
    CHECKS,
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
async def test_conformance(check: Callable[..., Awaitable[None]]) -> None:
    assert check in CHECKS
    await check(DRIVER, CARD, SILENT, Person)


async def test_opens_and_yields_what_is_typed() -> None:
    clock = SystemClock()
    async with DRIVER.connect(CARD, "keyboard", clock) as keyboard:
        readings = [r for n in range(5) for r in keyboard.typed(f"19.{n} 3580", clock.now_ns())]
    assert [r.channel for r in readings] == [0, 1] * 5
    assert {r.quality for r in readings} == {Quality.GOOD}
    assert keyboard.status.bytes_received == 45
