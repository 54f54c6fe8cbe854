"""Readings typed by hand."""

from __future__ import annotations

import asyncio

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import (
    CardError,
    ChannelCard,
    Quality,
    Quantity,
    Reading,
    SystemClock,
    TransportError,
    UsageError,
    parse_instrument_card,
)
from drivers.builtin_cards import builtin_cards
from drivers.keyboard import DRIVER
from drivers.keyboard.line import read_typed, what_to_type

PAIR = builtin_cards("keyboard-pair")[0]


@pytest.mark.parametrize(
    "line",
    ["19.6 3580", "19,6 3580", "  19.6\t3580 \r\n", "19.6; 3580", "19.6/3580", "19.6V 3580rpm",
     "19.6 V 3580 rpm", "19,6 volts  3580 r/min", "19.6 VAC; 3580 1/min", "+19.6 3580.0", "19.60 3580."],
)  # fmt: skip
def test_a_pair(line: str) -> None:
    assert read_typed(line, PAIR.channel, 7) == ([Reading(0, 7, 19.6), Reading(1, 7, 3580.0)], "")


@pytest.mark.parametrize(
    ("line", "readings"),
    [
        ("- 3580", [Reading(1, 7, 3580.0)]),
        ("19.6 -", [Reading(0, 7, 19.6)]),
        ("OL 3580", [Reading(0, 7, None, Quality.OVERLOAD), Reading(1, 7, 3580.0)]),
        ("0,125 1000", [Reading(0, 7, 0.125), Reading(1, 7, 1000.0)]),
        (",5 .5", None),
        ("", []),
        ("   ", []),
    ],
)
def test_values_that_were_not_read_and_overload(line: str, readings: list[Reading] | None) -> None:
    typed = read_typed(line, PAIR.channel, 7)
    if readings is None:
        assert typed.readings == [Reading(0, 7, None, Quality.BAD_FRAME)]
    else:
        assert typed == (readings, "")


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("hello", "2 values are due, 1 came"),
        ("19.6", "2 values are due, 1 came"),
        ("19.6 3580 12", "2 values are due, 3 came"),
        ("19.6 fast", "“fast” is no number"),
        ("19.6 3,580", "both a point and a comma"),
        ("19 3,580", "3,580 can be read in two ways"),
        ("12,345 1000", "12,345 can be read in two ways"),
        ("3580 19.6", "3580 V can't be; are the values in the right order?"),
        ("19.6 99999", "99999 rpm can't be"),
        ("3580rpm 19.6V", "“3580rpm” is not in V"),
        ("19.6mV 3580", "“19.6mV” is not in V"),
        ("nan 3580", "“nan” is no number"),
        ("inf 3580", "“inf” is no number"),
        ("1e3 3580", "“1e3” is no number"),
        ("- -", "it has no value"),
        ("1 " * 200, "far too long"),
    ],
)
def test_a_line_that_is_not_understood_is_given_back_in_words(line: str, why: str) -> None:
    readings, remark = read_typed(line, PAIR.channel, 7)
    assert readings == [Reading(0, 7, None, Quality.BAD_FRAME)]
    assert why in remark
    assert remark.startswith(f"“{line.split()[0]}")
    assert remark.endswith("Type AC volts, then rpm, such as 19.6 3580.")


@given(st.text(max_size=300))
def test_anything_may_be_typed(line: str) -> None:
    readings, remark = read_typed(line, PAIR.channel, 7)
    assert bool(remark) == any(r.quality is Quality.BAD_FRAME for r in readings)
    assert len(readings) <= 2
    assert len(remark) < 400


def test_other_channels_in_another_order() -> None:
    channels = (
        ChannelCard(Quantity.ROTATIONAL_SPEED),
        ChannelCard(Quantity.DC_CURRENT, scale=0.001),
        ChannelCard(Quantity.TEMPERATURE),
    )
    assert what_to_type(channels) == "rpm, then amperes, then degrees Celsius, such as 3580 2.4 41"
    readings, remark = read_typed("3580rpm 2400 41 °C", channels, 7)
    assert remark == ""
    assert [r.value for r in readings] == [3580.0, pytest.approx(2.4), 41.0]


async def test_typed_lines_become_readings_with_their_stamp() -> None:
    async with DRIVER.connect(PAIR, "keyboard", SystemClock()) as keyboard:
        assert keyboard.typed("19,6 3580", 5) == [Reading(0, 5, 19.6), Reading(1, 5, 3580.0)]
        assert keyboard.typed("oops", 6) == [Reading(0, 6, None, Quality.BAD_FRAME)]
        assert keyboard.status.bad_frames == 1
        assert "“oops” was not taken" in keyboard.status.remarks[0]
        assert keyboard.status.last_bytes == b"oops"
        assert keyboard.status.awaited == "a typed line: AC volts, then rpm, such as 19.6 3580"


async def test_receiving_waits_until_the_end() -> None:
    keyboard = DRIVER.connect(PAIR, "keyboard", SystemClock())
    await keyboard.open()
    waiting = asyncio.create_task(keyboard.receive())
    await asyncio.sleep(0)
    assert not waiting.done()
    await keyboard.aclose()
    await keyboard.aclose()
    with pytest.raises(TransportError, match="closed"):
        await waiting


async def test_a_flood_of_bad_lines_does_not_pile_up_remarks() -> None:
    keyboard = DRIVER.connect(PAIR, "keyboard", SystemClock())
    for _ in range(1000):
        keyboard.typed("oops", 1)
    assert len(keyboard.status.remarks) == 50
    assert keyboard.status.bad_frames == 1000


def test_another_address_is_refused() -> None:
    with pytest.raises(UsageError, match="-i keyboard-pair@keyboard"):
        DRIVER.connect(PAIR, "/dev/ttyUSB0", SystemClock())


def test_a_keyboard_card_has_no_settings() -> None:
    text = 'name = "t"\ntitle = "t"\nprotocol = "keyboard"\n[settings]\nbaud = 1\n'
    with pytest.raises(CardError, match="baud"):
        DRIVER.check(parse_instrument_card(text + '[[channel]]\nquantity = "ac_voltage"', origin="t"))
