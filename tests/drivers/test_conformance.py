"""One set of checks for every registered driver, over pseudo-terminals and TCP."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Callable
from types import ModuleType

import pytest

from daq.driver_api import InstrumentCard
from daq.registry import load_registry
from tests.drivers.conformance import CHECKS, Check
from tests.drivers.peers import BEHAVIOURS, Behaviour, Peer, PtyPeer, TcpPeer

# Those of packages of their own bring a test module of their own; tests/drivers/outside_plugin has one to copy.
DRIVERS = {
    name: driver
    for name, driver in load_registry().drivers.items()
    if type(driver).__module__.partition(".")[0] == "drivers"
}


def test_every_driver_that_is_declared_loads() -> None:
    assert load_registry().broken == ()
    assert {"scpi", "text"} <= set(DRIVERS)


def _checks_run_by(module: ModuleType) -> set[object]:
    """What its ``test_conformance`` is parametrized with, as pytest will call it."""
    marks: list[pytest.Mark] = module.test_conformance.pytestmark
    return {check for mark in marks if mark.args[0] == "check" for check in mark.args[1]}


@pytest.mark.parametrize("name", sorted(DRIVERS))
def test_no_driver_gets_by_without_the_checks(name: str) -> None:
    """Those on other lines than a serial port or TCP run them in a module of their own, or say why one can't fit."""
    if name in BEHAVIOURS:
        module, runs_here = sys.modules[__name__], name in {one for one, _ in _LINES}
    else:
        module = importlib.import_module(f"tests.drivers.{name}.test_conformance")
        runs_here = module.DRIVER is DRIVERS[name]
    assert runs_here
    unfit: dict[object, str] = getattr(module, "UNFIT", {})
    assert all(len(why.split()) > 3 for why in unfit.values()), "a reason in words"
    assert _checks_run_by(module) | set(unfit) == set(CHECKS)
    assert not _checks_run_by(module) & set(unfit)


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
