"""Packets of numbers through a card: known characteristics, the device's description, the card's own."""

from __future__ import annotations

import struct
from typing import Any

import pytest

from daq.driver_api import CardError, Quality, Reading, parse_instrument_card
from drivers.gatt.driver import DRIVER
from drivers.gatt.settings import parse_settings
from drivers.gatt.sources import PacketDecoder, decoder_for, plan_sources
from tests.drivers.gatt.devices import OWN_VALUE


def decoder(text: str, descriptor: str | None = None) -> PacketDecoder:
    card = parse_instrument_card(HEAD + text, origin="test")
    DRIVER.check(card)
    (source,) = plan_sources(card, parse_settings(card))
    return decoder_for(card, source, None if descriptor is None else bytes.fromhex(descriptor))


HEAD = 'name = "under-test"\ntitle = "Under test"\nprotocol = "gatt"\n'
VOLTS = '[[channel]]\nquantity = "ac_voltage"\n'
SPEED = '[[channel]]\nquantity = "rotational_speed"\n'


def values(uuid: str, more: str = "") -> str:
    return f'[[settings.value]]\ncharacteristic = "{uuid}"\n{more}\n'


def test_known_characteristic_before_its_descriptor() -> None:
    """The descriptor of 0x2B18 can't say 1/64 V; taken at its word it would read 64 times too high."""
    reads = decoder(values("0x2B18") + VOLTS, "06002827010000")
    assert reads.feed(bytes.fromhex("4003"), 7) == [Reading(0, 7, 13.0)]


def test_descriptor_where_the_characteristic_is_not_known() -> None:
    reads = decoder(values(OWN_VALUE) + VOLTS, "06fd2827010000")
    assert reads.feed((19620).to_bytes(2, "little"), 7) == [Reading(0, 7, 19.62)]


def test_scale_and_offset_of_the_card_come_last() -> None:
    reads = decoder(values("0x2B18") + VOLTS + "scale = 2.0\noffset = -1.0\n")
    assert reads.feed(bytes.fromhex("4003"), 7) == [Reading(0, 7, 25.0)]


@pytest.mark.parametrize(("more", "value"), [("", 3600.0), ('direction = "kept"', -3600.0)])
def test_direction(more: str, value: float) -> None:
    reads = decoder(values("0x2C09", more) + SPEED)
    assert reads.feed(bytes.fromhex("f0f1ffff"), 7) == [Reading(0, 7, value)]


def test_card_describes_two_numbers_of_one_characteristic() -> None:
    text = values(OWN_VALUE, 'format = "float32"\noffset = 1\nbyte_order = "big"\nlength = 7')
    text += values(OWN_VALUE, 'format = "uint16"\noffset = 5\nlength = 7\nnot_known = 65535')
    reads = decoder(text + VOLTS + SPEED + "scale = 0.5\n")
    packet = b"\xaa" + struct.pack(">f", 19.5) + (7200).to_bytes(2, "little")
    assert reads.feed(packet, 7) == [Reading(0, 7, 19.5), Reading(1, 7, 3600.0)]
    unknown = packet[:5] + b"\xff\xff"
    assert reads.feed(unknown, 8) == [Reading(0, 8, 19.5), Reading(1, 8, None, Quality.NOT_A_NUMBER)]


def test_what_is_too_large_for_a_number_is_over_range() -> None:
    reads = decoder(values(OWN_VALUE, 'format = "float64"') + VOLTS + "scale = 1e10\n")
    assert reads.feed(struct.pack("<d", 1e305), 7) == [Reading(0, 7, None, Quality.OVERLOAD)]


@pytest.mark.parametrize(
    ("text", "descriptor", "good"),
    [
        (values("0x2B18") + VOLTS, None, "4003"),
        (values("0x2C09") + SPEED, None, "f0f1ffff"),
        (values("0x2AEE") + '[[channel]]\nquantity = "dc_current"\n', None, "e204"),
        (values(OWN_VALUE) + VOLTS, "17002827010000", "6c0100ff"),
        (values(OWN_VALUE, 'format = "uint24"\nlength = 5') + VOLTS, None, "0102030405"),
    ],
)
def test_each_sample_cut_and_lengthened_is_a_bad_frame(text: str, descriptor: str | None, good: str) -> None:
    reads, whole = decoder(text, descriptor), bytes.fromhex(good)
    assert [r.quality for r in reads.feed(whole, 1)] == [Quality.GOOD]
    for length in [*range(len(whole)), *range(len(whole) + 1, 40)]:
        assert reads.feed((whole + bytes(40))[:length], 2) == [Reading(0, 2, None, Quality.BAD_FRAME)]
    assert [r.quality for r in reads.feed(whole, 3)] == [Quality.GOOD]


def test_a_described_packet_may_be_longer_where_the_card_gives_no_length() -> None:
    reads = decoder(values(OWN_VALUE, 'format = "uint8"\noffset = 2') + VOLTS)
    assert reads.feed(b"\x00\x00\x13\x99\x99", 1) == [Reading(0, 1, 19.0)]
    assert reads.feed(b"\x00\x00", 1) == [Reading(0, 1, None, Quality.BAD_FRAME)]


@pytest.mark.parametrize(
    ("descriptor", "says"),
    [
        (None, "carries no Presentation Format"),
        ("19002827010000", "no single number"),
        ("0600a827010000", "revolution per minute, which is no ac voltage"),
        ("0600ff27010000", "unit 0x27FF"),
    ],
)
def test_a_device_that_does_not_say_enough_is_refused_in_words(descriptor: str | None, says: str) -> None:
    with pytest.raises(CardError, match=says):
        decoder(values(OWN_VALUE) + VOLTS, descriptor)


def test_text_in_pieces_and_in_whole_lines() -> None:
    text = f'[settings.text]\ncharacteristic = "{OWN_VALUE}"\n'
    pieces = decoder(text + VOLTS)
    assert pieces.feed(b"9.62 V\r\n19", 1) == []  # what came first may be a line's tail
    assert pieces.feed(b".6", 2) == []
    assert pieces.feed(b"2 V AC\r\n", 3) == [Reading(0, 3, 19.62)]
    whole = decoder(text + 'packets = "lines"\n' + VOLTS)
    assert whole.feed(b"19.62", 1) == [Reading(0, 1, 19.62)]
    assert whole.feed(b"OL\r\n", 2) == [Reading(0, 2, None, Quality.OVERLOAD)]


def test_text_with_several_numbers_a_line() -> None:
    text = f'[settings.text]\ncharacteristic = "{OWN_VALUE}"\npackets = "lines"\n'
    reads = decoder(text + '[settings.text.settings]\ndelimiter = ","\n' + SPEED + VOLTS)
    assert reads.feed(b"3580,19.6", 1) == [Reading(0, 1, 3580.0), Reading(1, 1, 19.6)]


def card_error(text: str) -> str:
    card = parse_instrument_card(HEAD + text, origin="test")
    with pytest.raises(CardError) as caught:
        DRIVER.check(card)
    return str(caught.value)


CSC = values("0x2A5B")
REVOLUTIONS = '[[channel]]\nquantity = "revolutions"\n'
DEVICE_TIME = '[[channel]]\nquantity = "device_time"\n'


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (VOLTS, "either [[settings.value]] tables or one [settings.text]"),
        (values("0x2B18") + f'[settings.text]\ncharacteristic = "{OWN_VALUE}"\n' + VOLTS, "either"),
        (values("0x2B18") + VOLTS + SPEED, "one [[settings.value]] for each [[channel]]"),
        (values("volts") + VOLTS, "four hex digits"),
        (values("0x2B18", 'service = "x"') + VOLTS, "service: 'x' must be"),
        (values("0x2B18") + SPEED, "gives ac_voltage or dc_voltage"),
        (values("0x2AEE") + VOLTS, "gives dc_current"),
        (values(OWN_VALUE, 'format = "uint13"') + VOLTS, "must be one of uint8"),
        (values(OWN_VALUE, "offset = 2") + VOLTS, "need a format"),
        (values(OWN_VALUE, 'format = "uint16"\noffset = 600') + VOLTS, "from 0 to 511"),
        (values(OWN_VALUE, 'format = "uint16"\noffset = 4\nlength = 5') + VOLTS, "from 6 to 512"),
        (values(OWN_VALUE, 'format = "SFLOAT"\nnot_known = 1') + VOLTS, "uint and sint"),
        (values(OWN_VALUE, "speed = 1") + VOLTS, "speed"),
        (CSC + VOLTS, "gives revolutions and device_time"),
        (CSC + DEVICE_TIME, "needs a revolutions channel"),
        (CSC + CSC + REVOLUTIONS + REVOLUTIONS, "one revolutions channel"),
        (CSC + REVOLUTIONS + "scale = 2.0\n", "marks_per_revolution"),
        (values("0x2A5B", "most_rpm = 0.0") + REVOLUTIONS, "most_rpm"),
        (
            f'[settings.text]\ncharacteristic = "{OWN_VALUE}"\n[settings.text.settings]\nmax_line = 1\n'
            + VOLTS,
            "max_line",
        ),
    ],
)
def test_bad_cards_are_told_by_key(text: str, says: str) -> None:
    told = card_error(text)
    assert says in told
    assert "under-test" in told


def test_built_in_cards_pass_their_own_check() -> None:
    cards = {card.name: card for card in DRIVER.cards()}
    assert sorted(cards) == ["ble-revolutions", "ble-speed", "ble-volts"]
    for card in cards.values():
        DRIVER.check(card)
    assert "whether the volts alternate" in cards["ble-volts"].notes


def test_one_subscription_for_channels_of_one_characteristic() -> None:
    (card,) = [card for card in DRIVER.cards() if card.name == "ble-revolutions"]
    (source,) = plan_sources(card, parse_settings(card))
    assert [wanted.channel for wanted in source.wanted] == [0, 1]
    reads: Any = decoder_for(card, source, None)
    assert reads.feed(b"\x01\x01\x00\x00\x00\x00\x00", 4) == [Reading(0, 4, 0.0), Reading(1, 4, 0.0)]
