"""How well a card understands what came."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from daq.cards.instrument import TransportDefaults
from daq.driver_api import InstrumentCard, Quality, Reading
from daq.finding.entries import Heard
from daq.finding.score import Tally, best_first, heard_bytes
from daq.registry import load_registry

REGISTRY = load_registry()
LINE = TransportDefaults()


class Piece(NamedTuple):
    data: bytes
    t_ns: int


def card_of(name: str) -> InstrumentCard:
    for driver in REGISTRY.drivers.values():
        for card in driver.cards():
            if card.name == name:
                return card
    raise AssertionError(name)


def heard(name: str, *lines: bytes, every_s: float = 0.5, in_step: bool = True) -> Heard | None:
    card = card_of(name)
    decoder = REGISTRY.driver(card.protocol).decoder(card)
    assert decoder is not None
    pieces = [Piece(line, round(n * every_s * 1e9)) for n, line in enumerate(lines)]
    return heard_bytes(card, decoder, pieces, LINE, in_step=in_step)


def sure(one: Heard | None) -> Heard:
    assert one is not None
    return one


def test_all_understood() -> None:
    one = sure(heard("text-speed", b"3580 rpm\r\n", b"3590 rpm\r\n", b"3600 rpm\r\n"))
    assert (one.share, one.readings, one.remarks) == (1.0, 3, ())
    assert one.readings_per_s == pytest.approx(2.0)
    assert [(e.value, e.unit) for e in one.examples] == [(3600.0, "rpm")]
    assert one.is_good


def test_half_of_the_bytes_understood() -> None:
    one = sure(heard("text-speed", b"1234\r", b"????\r", b"1236\r", b"!!!!\r"))
    assert one.share == pytest.approx(0.5)
    assert not one.is_good


def test_junk_is_understood_by_nobody() -> None:
    assert heard("text-speed", b"\xfe\x81\x00" * 200) is None
    assert heard("segment-meter", b"\xfe\x81\x00" * 200) is None


def test_a_sliver_of_sense_in_much_junk_is_a_small_share() -> None:
    one = sure(heard("text-speed", b"3580\r", b"\xfe\x81" * 2000))
    assert one.share < 0.01


def test_what_comes_in_mid_frame_is_no_fault() -> None:
    one = sure(heard("text-speed", b"80 rpm\r\n", b"3590 rpm\r\n", in_step=False))
    assert (one.share, one.readings) == (1.0, 1), "the rest of a line must not pass for a reading"
    assert [e.value for e in one.examples] == [3590.0]


def test_a_meter_on_ohms_is_understood_and_told() -> None:
    one = sure(heard("text-volts", b"12.0 ohm\r\n", b"12.1 ohm\r\n"))
    assert one.share == 1.0
    assert one.readings == 0
    assert one.remarks == ("2 of 2 readings say: wrong function",)
    assert not one.is_good


def test_values_that_no_instrument_shows_are_told() -> None:
    one = sure(heard("text-pair", b"19.6,3580\r\n", b"19.7,3590\r\n"))
    assert "3590 V is no likely ac voltage" in one.remarks
    assert not one.is_good


@pytest.mark.parametrize(
    ("card", "line", "likely"),
    [
        ("text-speed", b"29000\r", True),
        ("text-speed", b"31000\r", False),
        ("text-speed", b"-31000\r", False),
        ("text-volts", b"990\r", True),
        ("text-volts", b"1100\r", False),
    ],
)
def test_how_much_is_likely(card: str, line: bytes, likely: bool) -> None:
    assert sure(heard(card, line)).is_good is likely


def test_a_channel_that_stays_silent_is_told() -> None:
    one = sure(heard("nmea-engine", b"$IIRPM,E,1,2418.2,10.5,A*5F\r\n"))
    assert one.remarks == ("no dc voltage among them",)


def test_what_an_asked_instrument_answers_is_counted() -> None:
    tally = Tally(card_of("text-pair"))
    tally.add([Reading(0, 0, 3580.0), Reading(1, 0, 19.6), Reading(0, 1, None, Quality.BAD_FRAME)])
    tally.add([Reading(0, 2, None, Quality.LOST), Reading(1, 3, None, Quality.OVERLOAD)])
    assert (tally.bad, tally.understood, tally.good) == (2, 3, 1)
    one = tally.heard(0.6, LINE, asked=True)
    assert (one.asked, one.share, one.readings, one.is_good) == (True, 0.6, 1, False)
    assert one.remarks == ("1 of 3 readings say: overload",)


def test_more_channels_go_before_fewer_and_faults_go_last() -> None:
    lines = (b"3580,19.62\r\n", b"3590,19.63\r\n")
    both = sure(heard("text-pair", *lines))
    one = sure(heard("text-speed", *lines))
    ohms = sure(heard("text-volts", b"12 ohm\r", b"13 ohm\r"))
    assert [h.card for h in best_first([ohms, one, both])] == ["text-pair", "text-speed", "text-volts"]


def test_what_can_be_recommended_goes_before_what_gives_more_but_nonsense() -> None:
    lines = (b"19.6,3580\r\n", b"19.7,3590\r\n")
    speed = sure(heard("text-speed", *lines))
    swapped = sure(heard("text-pair", *lines))  # reads the speed as volts
    assert (speed.is_good, swapped.is_good) == (True, False)
    assert len(swapped.examples) > len(speed.examples)
    assert round(swapped.share, 1) >= round(speed.share, 1)
    assert [h.card for h in best_first([swapped, speed])] == ["text-speed", "text-pair"]
