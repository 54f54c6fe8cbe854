"""One set of checks for every registered driver, over pseudo-terminals and TCP."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from daq.driver_api import Driver, InstrumentCard
from daq.registry import load_registry
from tests.drivers.conformance import CHECKS
from tests.drivers.peers import BEHAVIOURS, Behaviour, Peer, PtyPeer, TcpPeer

Check = Callable[[Driver, InstrumentCard, Behaviour, Callable[[Behaviour], Peer]], Awaitable[None]]
DRIVERS = load_registry().drivers


def test_every_driver_that_is_declared_loads() -> None:
    assert load_registry().broken == ()
    assert {"scpi", "text"} <= set(DRIVERS)


@pytest.mark.parametrize("name", sorted(DRIVERS))
def test_no_driver_gets_by_without_the_checks(name: str) -> None:
    """Those on other lines than a serial port or TCP run the same checks in a module of their own."""
    own = Path(__file__).parent / name / "test_conformance.py"
    assert name in BEHAVIOURS or "CHECKS" in own.read_text("utf-8")


# Both kinds of line for one that speaks unasked and one that is asked; the link under the others is the same.
_ON_TCP = ["scpi", "text"]
_LINES = [(name, PtyPeer) for name in sorted(set(DRIVERS) & set(BEHAVIOURS))] + [
    (name, TcpPeer) for name in _ON_TCP
]


@pytest.mark.parametrize(("name", "kind"), _LINES)
@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
async def test_conformance(check: Check, name: str, kind: Callable[[Behaviour], Peer]) -> None:
    driver = DRIVERS[name]
    card, behaviour = BEHAVIOURS[name]
    await check(driver, next(c for c in driver.cards() if c.name == card), behaviour, kind)


@pytest.mark.parametrize(
    ("name", "card"), [(name, card) for name, driver in sorted(DRIVERS.items()) for card in driver.cards()]
)
def test_every_built_in_card_passes_its_drivers_check(name: str, card: InstrumentCard) -> None:
    DRIVERS[name].check(card)
    assert card.protocol == name
    assert card.title
