"""Looking around: what several drivers find at one address is told once, and no driver hinders another."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from daq.catalog import load_catalog
from daq.driver_api import Clock, Driver, FoundInstrument, Instrument, InstrumentCard, TransportError
from daq.errors import SpinvoltError, TransportReason
from daq.finding.look import look_around
from daq.registry import BrokenDriver, Registry

PORT = FoundInstrument("/dev/ttyUSB7", "", ("USB 1209:0001",), cards=("a",))
SAME = FoundInstrument(
    "/dev/ttyUSB7", "Shed cable", ("USB 1209:0001",), cards=("b", "a"), in_use_by="x (process 7)"
)
NEAR = FoundInstrument("ble:C4:11:5E:00:00:02", "Near", signal_dbm=-40)
FAR = FoundInstrument("ble:C4:11:5E:00:00:01", "Far", signal_dbm=-90)


class Finder(Driver):
    """Finds what it is told, or fails."""

    def __init__(self, name: str, found: Sequence[FoundInstrument] | Exception) -> None:
        self.name = name
        self._found = found

    def check(self, card: InstrumentCard) -> None:
        return

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        raise AssertionError("looking opens nothing")

    async def discover(self, seconds: float) -> Sequence[FoundInstrument]:
        if isinstance(self._found, Exception):
            raise self._found
        return self._found


def registry(*finders: Finder, broken: tuple[BrokenDriver, ...] = ()) -> Registry:
    return Registry({finder.name: finder for finder in finders}, broken)


async def test_one_entry_an_address_with_all_that_is_known(tmp_path: Path) -> None:
    radio = Finder("radio", [FAR, NEAR, FoundInstrument("ble:C4:11:5E:00:00:03", "Faintest")])
    drivers = registry(radio, Finder("one", [PORT]), Finder("two", [SAME]))
    found = await look_around(load_catalog(drivers, tmp_path), 0.1)
    assert [one.name for one in found.instruments] == ["Shed cable", "Near", "Far", "Faintest"], (
        "cables first, then by strength"
    )
    port = found.instruments[0]
    assert (port.cards, port.details, port.in_use_by) == (("a", "b"), ("USB 1209:0001",), "x (process 7)")
    assert found.remarks == ()


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (TransportError("No adapter.", reason=TransportReason.UNAVAILABLE, address="ble:"), "No adapter."),
        (SpinvoltError("Not today."), "Not today."),
        (
            ZeroDivisionError("division"),
            "Driver radio failed while it looked around: ZeroDivisionError: division.",
        ),
    ],
)
async def test_what_hinders_one_driver_is_a_remark(error: Exception, words: str, tmp_path: Path) -> None:
    drivers = registry(
        Finder("radio", error), Finder("one", [PORT]), broken=(BrokenDriver("zed", "z:Z", "no z"),)
    )
    found = await look_around(load_catalog(drivers, tmp_path), 0.1)
    assert found.remarks == (words, "Driver zed can't be loaded: no z.")
    assert [one.address for one in found.instruments] == ["/dev/ttyUSB7"]


async def test_ones_own_cards_come_first(tmp_path: Path) -> None:
    (tmp_path / "cards").mkdir()
    card = 'name = "mine"\ntitle = "t"\nprotocol = "%s"\n[[channel]]\nquantity = "frequency"\n'
    (tmp_path / "cards" / "mine.toml").write_text(card % "one")
    found = await look_around(
        load_catalog(registry(Finder("one", [PORT]), Finder("two", [FAR])), tmp_path), 0.1
    )
    assert [one.cards for one in found.instruments] == [("mine", "a"), ()]
