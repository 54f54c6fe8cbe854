"""Frames that a card describes."""

from __future__ import annotations

import struct

import pytest

from daq.driver_api import CardError, Quality, Reading, parse_instrument_card
from drivers.frame import DRIVER
from drivers.frame.checks import CHECKS
from drivers.frame.decoder import FrameDecoder
from drivers.frame.described import DescribedLayout
from drivers.frame.settings import DescribedFrame, parse_settings

CARD = """
name = "t"
title = "t"
protocol = "frame"
[settings]
sync = "{sync}"
length = {length}
{more}
[[settings.value]]
{value}
[[channel]]
quantity = "ac_voltage"
"""


def decoder_for(
    value: str = "at = 2", *, sync: str = "AA 55", length: int = 5, more: str = 'check = "sum8"'
) -> FrameDecoder:
    text = CARD.format(sync=sync, length=length, more=more, value=value)
    card = parse_instrument_card(text, origin="t.toml")
    settings = parse_settings(card)
    assert isinstance(settings, DescribedFrame)
    return FrameDecoder(DescribedLayout(card.channel, settings))


def framed(body: bytes, check: str = "sum8") -> bytes:
    data = b"\xaa\x55" + body
    size, compute = CHECKS[check]
    return data + compute(data).to_bytes(size, "little")


@pytest.mark.parametrize(
    ("check", "value"),
    [
        ("xor", 0x31),  # of the digits 1 to 9: worked by hand
        ("sum8", 0xDD),  # 477 = 0x1DD
        ("lrc", 0x23),
        ("crc16-modbus", 0x4B37),  # CRC catalogue (row W9)
        ("crc16-ccitt", 0x29B1),  # CRC catalogue, from memory
        ("none", 0),
    ],
)
def test_check_values_of_123456789(check: str, value: int) -> None:
    assert CHECKS[check].compute(b"123456789") == value


@pytest.mark.parametrize("check", [name for name in CHECKS if name != "none"])
def test_each_check_finds_every_flipped_bit(check: str) -> None:
    length = 4 + CHECKS[check].size
    good = framed(b"\x07\x2a", check)
    decoder = decoder_for(length=length, more=f'check = "{check}"')
    assert decoder.feed(good, 1) == [Reading(0, 1, 0x072A)]
    for place in range(length):
        for bit in range(8):
            hurt = bytearray(good)
            hurt[place] ^= 1 << bit
            decoder = decoder_for(length=length, more=f'check = "{check}"')
            assert {r.quality for r in decoder.feed(bytes(hurt) + b"\0" * length, 1)} == {Quality.BAD_FRAME}


@pytest.mark.parametrize(
    ("value", "body", "expected"),
    [
        ('at = 2\ntype = "uint8"', b"\xfe\0", 254.0),
        ('at = 2\ntype = "int8"', b"\xfe\0", -2.0),
        ('at = 2\ntype = "uint8"', b"\xfe", 254.0),
        ('at = 2\ntype = "int8"', b"\xfe", -2.0),
        ('at = 2\ntype = "uint16"', b"\x01\x02", 258.0),
        ('at = 2\ntype = "uint16"\norder = "little"', b"\x01\x02", 513.0),
        ('at = 2\ntype = "int16"', b"\xff\xfe", -2.0),
        ('at = 2\ntype = "uint32"', b"\0\x05\x76\x70", 358000.0),
        ('at = 2\ntype = "int32"\norder = "little"', b"\xfe\xff\xff\xff", -2.0),
        ('at = 2\ntype = "float32"', struct.pack(">f", 19.5), 19.5),
        ('at = 2\ntype = "float64"\norder = "little"', struct.pack("<d", 19.62), 19.62),
        ('at = 2\ntype = "bcd"\nsize = 3', b"\x12\x34\x56", 123456.0),
        ('at = 2\ntype = "bcd"\nsize = 3\norder = "little"', b"\x12\x34\x56", 563412.0),
        ('at = 2\ntype = "bcd"\nsize = 2\ndecimals_at = 4', b"\x19\x62\x02", 19.62),
        ('at = 2\ntype = "ascii"\nsize = 6', b"-19.62", -19.62),
        ('at = 2\ntype = "ascii"\nsize = 6', b"+ 3580", 3580.0),
    ],
)
def test_types(value: str, body: bytes, expected: float) -> None:
    decoder = decoder_for(value, length=3 + len(body))
    (reading,) = decoder.feed(framed(body), 1)
    assert reading.value == pytest.approx(expected, rel=1e-12)
    assert reading.quality is Quality.GOOD


@pytest.mark.parametrize(
    ("value", "body", "quality"),
    [
        ("at = 2\noverload = [65535]", b"\xff\xff", Quality.OVERLOAD),
        ("at = 2\nmissing = [65534]", b"\xff\xfe", Quality.NOT_A_NUMBER),
        ('at = 2\ntype = "float32"', struct.pack(">f", float("inf")), Quality.OVERLOAD),
        ('at = 2\ntype = "float32"', struct.pack(">f", float("nan")), Quality.NOT_A_NUMBER),
        ('at = 2\ntype = "bcd"\nsize = 2', b"\x1a\x00", Quality.BAD_FRAME),
        ('at = 2\ntype = "ascii"\nsize = 6', b"  OL  ", Quality.OVERLOAD),
        ('at = 2\ntype = "ascii"\nsize = 6', b"      ", Quality.BLANK),
        ('at = 2\ntype = "ascii"\nsize = 6', b"1.2.3 ", Quality.BAD_FRAME),
        ('at = 2\ntype = "ascii"\nsize = 6', b"nan   ", Quality.BAD_FRAME),
        ('at = 2\ntype = "ascii"\nsize = 6', b"1e9999", Quality.BAD_FRAME),
    ],
)
def test_numbers_that_are_no_value(value: str, body: bytes, quality: Quality) -> None:
    decoder = decoder_for(value, length=3 + len(body))
    assert decoder.feed(framed(body), 1) == [Reading(0, 1, None, quality)]


@pytest.mark.parametrize(
    ("status", "value", "quality"),
    [
        (0x00, 300.0, Quality.GOOD),
        (0x01, None, Quality.OVERLOAD),
        (0x02, 300.0, Quality.HOLD),
        (0x06, 300.0, Quality.HOLD),
        (0x04, 300.0, Quality.LOW_BATTERY),
        (0x10, 300.0, Quality.WRONG_FUNCTION),
        (0x30, 300.0, Quality.GOOD),
        (0x03, None, Quality.OVERLOAD),
    ],
)
def test_flags_the_first_that_is_up_counts(status: int, value: float | None, quality: Quality) -> None:
    flags = """check = "sum8"
flag = [
  {at = 2, mask = 1, means = "overload"},
  {at = 2, mask = 2, means = "hold"},
  {at = 2, mask = 4, means = "low_battery"},
  {at = 2, mask = 0x30, equals = 0x10, means = "wrong_function"},
]"""
    decoder = decoder_for("at = 3", length=6, more=flags)
    assert decoder.feed(framed(bytes([status, 1, 44])), 1) == [Reading(0, 1, value, quality)]


def test_check_value_amid_the_frame_with_its_own_start_and_order() -> None:
    more = 'check = "crc16-modbus"\ncheck_at = 5\ncheck_from = 2\ncheck_order = "big"\ntail = "0D 0A"'
    decoder = decoder_for("at = 3", length=9, more=more)
    crc = CHECKS["crc16-modbus"].compute(b"\x01\x02\x03").to_bytes(2, "big")
    frame = b"\xaa\x55\x01\x02\x03" + crc + b"\r\n"
    assert decoder.feed(frame, 1) == [Reading(0, 1, 0x0203)]


def test_without_a_check_value_a_frame_after_junk_waits_for_the_next_one() -> None:
    decoder = decoder_for("at = 1", sync="AA", length=5, more='tail = "0A"')
    frame = b"\xaa\x01\x02\x03\x0a"
    assert decoder.feed(frame, 1) == [Reading(0, 1, 258.0)], "in step from the start"
    assert [r.quality for r in decoder.feed(b"\x07", 2)] == [Quality.BAD_FRAME]
    assert decoder.feed(frame, 3) == []
    assert decoder.feed(frame[:1], 4) == [Reading(0, 3, 258.0)], "stamped when it was complete"
    assert decoder.feed(frame[1:], 5) == [Reading(0, 5, 258.0)]


def test_without_a_check_value_a_sync_inside_a_value_is_not_taken_for_a_beginning() -> None:
    decoder = decoder_for("at = 1", sync="AA", length=5, more='tail = "0A"')
    frame = b"\xaa\xaa\x01\x0a\x0a"
    decoder.resync()
    readings = decoder.feed(frame[1:] + frame * 3 + frame[:1], 1)
    assert [r.value for r in readings] == [0xAA01] * 3


def test_several_channels_of_one_frame_share_its_stamp() -> None:
    text = CARD.format(sync="AA 55", length=7, more='check = "xor"', value="at = 2") + (
        '[[channel]]\nquantity = "rotational_speed"\nscale = 10\n'
    )
    text = text.replace("[[channel]]", "[[settings.value]]\nat = 4\n[[channel]]", 1)
    card = parse_instrument_card(text, origin="t.toml")
    settings = parse_settings(card)
    assert isinstance(settings, DescribedFrame)
    decoder = FrameDecoder(DescribedLayout(card.channel, settings))
    assert decoder.feed(framed(b"\0\x14\x01\x66", "xor"), 9) == [Reading(0, 9, 20.0), Reading(1, 9, 3580.0)]


def test_junk_is_told_once_for_each_length_of_it() -> None:
    decoder = decoder_for()
    assert len(decoder.feed(b"\x01" * 21, 1)) == 5
    assert decoder.feed(framed(b"\x01\x02"), 2) == [Reading(0, 2, 258.0)]


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"sync": "XY"}, "hexadecimal"),
        ({"sync": ""}, "1 to 8 bytes"),
        ({"length": 2}, "from 3 to 256"),
        ({"length": 300}, "from 3 to 256"),
        ({"more": ""}, None),
        ({"sync": "AA", "more": ""}, "at least two bytes"),
        ({"more": 'check = "md5"'}, "check can't be 'md5'; accepted: none, "),
        ({"more": 'check = "sum8"\ncheck_at = 9'}, "check_at = 9"),
        ({"more": 'check = "sum8"\ncheck_from = 4'}, "check_from = 4"),
        ({"value": "at = 4"}, "beyond the frame's 5 bytes"),
        ({"value": "at = -1"}, "beyond"),
        ({"value": 'at = 2\ntype = "bcd"'}, "size must be given"),
        ({"value": 'at = 2\ntype = "uint16"\nsize = 3'}, "does not fit uint16"),
        ({"value": 'at = 2\ntype = "uint24"'}, "value 1.type can't be 'uint24'; accepted: uint8, "),
        ({"value": "at = 2\ndecimals_at = 5"}, "beyond"),
        ({"more": 'check = "sum8"\nflag = [{at = 9, mask = 1, means = "hold"}]'}, "flag"),
        ({"more": 'check = "sum8"\nflag = [{at = 2, mask = 0, means = "hold"}]'}, "mask = 0"),
        ({"more": 'check = "sum8"\nflag = [{at = 2, mask = 1, equals = 2, means = "hold"}]'}, "equals = 2"),
        ({"more": 'check = "sum8"\nbaud = 9600'}, "baud"),
    ],
)
def test_cards_that_make_no_sense_are_refused(changes: dict[str, object], complaint: str | None) -> None:
    parts = {"sync": "AA 55", "length": 5, "more": 'check = "sum8"', "value": "at = 2"} | changes
    card = parse_instrument_card(CARD.format(**parts), origin="t.toml")
    if complaint is None:
        DRIVER.check(card)
        return
    with pytest.raises(CardError, match=complaint):
        DRIVER.check(card)


def test_a_display_has_one_channel() -> None:
    text = 'name = "t"\ntitle = "t"\nprotocol = "frame"\n[settings]\nlayout = "segments"\n'
    channel = '[[channel]]\nquantity = "ac_voltage"\n'
    DRIVER.check(parse_instrument_card(text + channel, origin="t"))
    with pytest.raises(CardError, match="one value"):
        DRIVER.check(parse_instrument_card(text + channel * 2, origin="t"))
    with pytest.raises(CardError, match="celsius_bit"):
        DRIVER.check(parse_instrument_card(text + "celsius_bit = 3\n" + channel, origin="t"))
