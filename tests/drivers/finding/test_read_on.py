"""Reading on at real pseudo-terminals: values as they change, and a port that is free once it was called off."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from daq.catalog import instrument_card
from daq.errors import UsageError
from daq.finding import Listened, Live, read_on
from daq.registry import load_registry
from tests.drivers.finding.test_listening import given_time
from tests.drivers.peers import BEHAVIOURS, PtyPeer


class Reading:
    """A reading-on in a thread of its own."""

    def __init__(self, address: str, card: str) -> None:
        self.cancel = threading.Event()
        self.told: list[Live] = []
        self.enough = threading.Event()
        self.ended: list[Listened] = []
        line = instrument_card(card, load_registry()).transport
        self._thread = threading.Thread(
            target=lambda: self.ended.append(read_on(address, card, line, self._take, self.cancel))
        )
        self._thread.start()

    def _take(self, live: Live) -> None:
        self.told.append(live)
        if len(self.told) >= 3:
            self.enough.set()

    def end(self, *, by: Callable[[], object] | None = None) -> Listened:
        (self.cancel.set if by is None else by)()
        self._thread.join(20)
        (ended,) = self.ended
        return ended


@pytest.mark.parametrize("protocol", ["text", "scpi"])
def test_values_come_until_it_is_called_off_and_the_port_is_free_then(protocol: str) -> None:
    card, behaviour = BEHAVIOURS[protocol]
    with PtyPeer(behaviour) as peer:
        reading = Reading(peer.address, card)
        assert reading.enough.wait(20)
        assert reading.end() == Listened(peer.address)
        again = given_time(peer.address, [card])
    assert all(live.examples for live in reading.told)
    assert len({live.examples for live in reading.told}) > 1, "they are the newest ones"
    assert {example.unit for live in reading.told for example in live.examples} == {"V"} or protocol == "text"
    assert again.trouble == ""
    assert again.heard


def test_an_instrument_that_is_pulled_out_ends_it_with_a_sentence() -> None:
    card, behaviour = BEHAVIOURS["text"]
    with PtyPeer(behaviour) as peer:
        reading = Reading(peer.address, card)
        assert reading.enough.wait(20)
        ended = reading.end(by=peer.unplug)
    assert peer.address in ended.trouble


def test_what_makes_no_sense_is_wrong_usage() -> None:
    card, _ = BEHAVIOURS["text"]
    line = instrument_card(card, load_registry()).transport
    with pytest.raises(UsageError):
        read_on("ble:nonsense", card, line, lambda _: None, threading.Event())
