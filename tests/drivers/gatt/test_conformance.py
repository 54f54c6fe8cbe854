"""The checks that all drivers share, for gatt: real bleak, imitation of BlueZ on a private bus; not a radio."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

import pytest

from daq.driver_api import Driver, InstrumentCard
from drivers.gatt.driver import DRIVER
from drivers.transports.ble_nearby import nearby_devices
from tests.drivers.conformance import CHECKS, is_told_of_a_place_that_is_not_there
from tests.drivers.gatt.devices import METER, OWN_SERVICE, VOLTS_UUID, device
from tests.drivers.gatt.rig import Rig, command
from tests.drivers.peers import Behaviour, Peer

VOLTS = Behaviour(
    unasked=lambda n: (64 * 20 + n).to_bytes(2, "little"), step=1 / 64, spoil=lambda packet: packet[:1]
)
Check = Callable[[Driver, InstrumentCard, Behaviour, Callable[[Behaviour], Peer]], Awaitable[None]]


class BlePeer(Peer):
    """A device in the imitation's reach that sends what a behaviour says."""

    def __init__(self, behaviour: Behaviour, bus: str) -> None:
        super().__init__(behaviour)
        self.address = f"ble:{METER}"
        self._bus = bus

    def __enter__(self) -> BlePeer:
        unasked = self._behaviour.unasked
        spec = {"uuid": VOLTS_UUID, "rate": 0.001 if unasked is None else 1.0 / self._behaviour.period_s}
        if unasked is not None:
            spec["values"] = [unasked(n).hex() for n in range(1000)]
        described = device(METER, "Bench meter", OWN_SERVICE, spec)
        command(self._bus, "device", address=METER, device=described)
        return self

    def unplug(self) -> None:
        """Switched off: its link breaks, and it is not to be found any more."""
        command(self._bus, "drop", address=METER)
        command(self._bus, "remove", address=METER, for_good=True)


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__name__)
async def test_conformance(check: Check, bluez: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    in_vain = check is is_told_of_a_place_that_is_not_there
    monkeypatch.setattr("drivers.transports.ble.FIND_WITHIN_S", 1.5 if in_vain else 10.0)
    # bleak keeps one watcher of the bus for each event loop; let it be there before anything is counted.
    await nearby_devices(0.01)
    card = next(card for card in DRIVER.cards() if card.name == "ble-volts")
    await check(DRIVER, card, VOLTS, lambda behaviour: BlePeer(behaviour, bluez.address))
