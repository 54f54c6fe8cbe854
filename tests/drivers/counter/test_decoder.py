"""Pulse counts with a device time: wraps, new starts, garbled digits."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import CardError, InstrumentCard, Quality, Reading, parse_instrument_card
from drivers.counter import DRIVER
from drivers.counter.decoder import CounterDecoder
from drivers.counter.settings import parse_settings
from drivers.wrapping import steps_forward

S = 1_000_000_000


def card_of(settings: str = "", marks: int = 1) -> InstrumentCard:
    return parse_instrument_card(
        f"""name = "t"
title = "t"
protocol = "counter"
[settings]
{settings}
[[channel]]
quantity = "revolutions"
marks_per_revolution = {marks}
[[channel]]
quantity = "device_time"
""",
        origin="t.toml",
    )


class Board:
    """A board that counts and sends lines, and the decoder at the other end."""

    def __init__(self, settings: str = "", marks: int = 1) -> None:
        card = card_of(settings, marks)
        self.decoder = CounterDecoder(card.channel[0], card.channel[1], parse_settings(card))

    def line(self, count: int, ticks: int, at_s: float) -> list[tuple[float | None, Quality]]:
        """What one line gives: value and quality, revolutions before time."""
        return self.text(f"{count},{ticks}", at_s)

    def text(self, line: str, at_s: float) -> list[tuple[float | None, Quality]]:
        readings = self.decoder.feed(line.encode() + b"\n", round(at_s * S))
        assert all(r.t_ns == round(at_s * S) for r in readings)
        assert [r.channel for r in readings] in ([], [0], [0, 1], [0, 1, 0, 1])
        return [(r.value, r.quality) for r in readings]


def good(revolutions: float, seconds: float) -> list[tuple[object, Quality]]:
    return [(revolutions, Quality.GOOD), (pytest.approx(seconds, abs=1e-9), Quality.GOOD)]


BAD = [(None, Quality.BAD_FRAME)]
LOST = [(None, Quality.LOST)] * 2


def test_count_and_time() -> None:
    board = Board()
    assert board.line(48210, 91_822_344, 100.0) == good(48210, 91.822344)
    assert board.line(48216, 91_922_344, 100.1) == good(48216, 91.922344)


def test_marks_on_the_shaft() -> None:
    board = Board(marks=6)
    assert board.line(60, 1_000_000, 1.0) == good(10, 1.0)
    assert board.line(63, 1_010_000, 1.01) == good(10.5, 1.01)


def test_scale_and_offset_of_both_channels_hold() -> None:
    card = card_of()
    revolutions, device_time = (
        msgspec.structs.replace(channel, scale=2.0, offset=5.0) for channel in card.channel
    )
    decoder = CounterDecoder(revolutions, device_time, parse_settings(card))
    assert [r.value for r in decoder.feed(b"60,1000000\n", 1)] == [125.0, 7.0]


@pytest.mark.parametrize(("unit", "a_second"), [("ns", S), ("us", 1_000_000), ("ms", 1000), ("s", 1)])
def test_time_units(unit: str, a_second: int) -> None:
    board = Board(f'time_unit = "{unit}"')
    assert board.line(5, 3 * a_second, 0.0) == good(5, 3.0)


def test_both_wraps() -> None:
    """16 bits of count, 32 bits of microseconds: over both edges and on."""
    board = Board("count_bits = 16")
    assert board.line(65_530, 2**32 - 500_000, 0.0) == good(65_530, 4294.467296)
    assert board.line(14, 500_000 - 100_000, 0.9) == good(65_550, 4295.367296)
    assert board.line(34, 1_400_000, 1.9) == good(65_570, 4296.367296)


@given(
    start=st.integers(0, 2**16 - 1),
    start_ticks=st.integers(0, 2**24 - 1),
    steps=st.lists(st.tuples(st.integers(0, 80), st.integers(1, 1500)), min_size=1, max_size=60),
)
def test_wraps_anywhere_leave_the_sums_right(
    start: int, start_ticks: int, steps: list[tuple[int, int]]
) -> None:
    board = Board('count_bits = 16\ntime_bits = 24\ntime_unit = "ms"\nmost_rpm = 1e6')
    count, ms, at_s = start, start_ticks, 0.0
    board.line(count, ms, at_s)
    for wanted, step_ms in steps:
        counts = min(wanted, 16 * step_ms)  # 1e6 rpm is 16.7 a millisecond
        count, ms, at_s = count + counts, ms + step_ms, at_s + step_ms / 1000
        assert board.line(count % 2**16, ms % 2**24, at_s) == good(count, ms / 1000)


def test_a_board_that_starts_anew() -> None:
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    board.line(1060, 21_000_000, 51.0)
    assert board.line(3, 100_000, 52.5) == LOST + good(3, 0.1)
    assert board.line(63, 1_100_000, 53.5) == good(63, 1.1)


def test_a_board_that_starts_anew_at_the_same_count() -> None:
    board = Board()
    board.line(0, 20_000_000, 50.0)
    assert board.line(0, 100_000, 52.5) == LOST + good(0, 0.1)


def test_a_standing_shaft_repeats_its_newest_mark_and_goes_on_later() -> None:
    board = Board()
    board.line(100, 20_000_000, 50.0)
    for tenth in range(1, 600):
        assert board.line(100, 20_000_000, 50.0 + tenth / 10) == []
    assert board.line(101, 80_000_000, 110.0) == good(101, 80.0)


@pytest.mark.parametrize(
    ("count", "ticks"),
    [
        (12, 15_000_000),  # it would have run for 15 s since its start, but was heard a tenth of a second ago
        (1010, 100_000),  # the count has not fallen
    ],
)
def test_a_garbled_line_is_no_new_start(count: int, ticks: int) -> None:
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    assert board.line(count, ticks, 50.1) == BAD
    assert board.decoder.remarks == []
    assert board.line(1012, 20_200_000, 50.2) == good(1012, 20.2)


def test_a_fallen_count_is_no_new_start_while_the_time_goes_on() -> None:
    board = Board()
    board.line(1000, 200_000, 50.0)
    assert board.line(12, 300_000, 50.1) == BAD
    assert board.line(1012, 400_000, 50.2) == good(1012, 0.4)


def test_a_garbled_count_costs_one_line() -> None:
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    assert board.line(9006, 20_100_000, 50.1) == BAD
    assert board.line(12, 20_200_000, 50.2) == BAD
    assert board.line(1018, 20_300_000, 50.3) == good(1018, 20.3)


def test_a_garbled_time_costs_one_line() -> None:
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    assert board.line(1006, 90_100_000, 50.1) == BAD
    assert board.line(1012, 20_200_000, 50.2) == good(1012, 20.2)


def test_a_jump_that_stays_is_believed_and_marked() -> None:
    """Someone reset the count alone, or the first line was the garbled one."""
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    assert board.line(5, 20_100_000, 50.1) == BAD
    assert board.line(11, 20_200_000, 50.2) == LOST + good(11, 20.2)
    assert board.line(17, 20_300_000, 50.3) == good(17, 20.3)


def test_a_silence_longer_than_the_time_can_count_is_no_continuation() -> None:
    board = Board('time_bits = 16\ntime_unit = "ms"')
    board.line(1000, 10_000, 50.0)
    assert board.line(6000, 30_000, 50.0 + 20 + 65.536) == BAD
    assert board.line(6060, 31_000, 51.0 + 20 + 65.536) == LOST + good(6060, 31.0)


def test_faster_than_a_shaft_can_turn_is_not_believed() -> None:
    board = Board("most_rpm = 6000")
    board.line(0, 1_000_000, 1.0)
    assert board.line(110, 2_000_000, 2.0) == BAD
    assert board.line(200, 3_000_000, 3.0) == good(200, 3.0)


@pytest.mark.parametrize(
    "line",
    ["", "1", "1,2,3", "x,2", "1,y", "-1,2", "1.5,2", "1,2e3", "4294967296,2", "1,4294967296", "0x10,2",
     "٣,2", "1,", ",2", "1;2", "999999999999999999999,1"],
)  # fmt: skip
def test_lines_that_are_no_count(line: str) -> None:
    assert Board().text(line, 1.0) == ([] if not line else BAD)


def test_fields_delimiter_and_prefix_as_the_card_says() -> None:
    board = Board('fields = ["time", "-", "count"]\ndelimiter = ";"\nprefix = "C:"')
    assert board.text("C:1000000;junk;7", 1.0) == good(7, 1.0)
    assert board.text("hello from the board", 1.1) == []
    assert board.text("C:1000000;7", 1.2) == BAD


def test_a_line_that_is_too_long() -> None:
    assert Board().text("1" * 200 + ",1", 1.0) == BAD


@pytest.mark.parametrize(
    ("before", "after", "bits", "steps"),
    [
        (0, 0, 16, 0),
        (5, 9, 16, 4),
        (65535, 0, 16, 1),
        (65530, 4, 16, 10),
        (9, 5, 8, 252),
        (2**32 - 1, 1, 32, 2),
    ],
)
def test_steps_forward(before: int, after: int, bits: int, steps: int) -> None:
    assert steps_forward(before, after, bits) == steps


@pytest.mark.parametrize(
    ("settings", "complaint"),
    [
        ('fields = ["count"]', "count.*time"),
        ('fields = ["count", "time", "time"]', "once each"),
        ('fields = ["count", "volts"]', "fields"),
        ('delimiter = ""', "delimiter"),
        ('delimiter = "5"', "delimiter"),
        ('time_unit = "h"', "time_unit"),
        ("count_bits = 4", "count_bits = 4"),
        ("time_bits = 65", "time_bits = 65"),
        ("most_rpm = 0", "most_rpm"),
        ("max_line = 2", "max_line"),
        ('prefix = "naïve"', "prefix"),
        ("marks = 2", "there is no key marks; accepted: fields, delimiter"),
    ],
)
def test_cards_that_make_no_sense_are_refused(settings: str, complaint: str) -> None:
    with pytest.raises(CardError, match=complaint):
        DRIVER.check(card_of(settings))


def test_the_two_channels_are_fixed() -> None:
    text = 'name = "t"\ntitle = "t"\nprotocol = "counter"\n[[channel]]\nquantity = "rotational_speed"'
    with pytest.raises(CardError, match="exactly two"):
        DRIVER.check(parse_instrument_card(text, origin="t"))


def test_lost_bytes_do_not_lose_the_count() -> None:
    board = Board()
    board.line(1000, 20_000_000, 50.0)
    board.decoder.feed(b"10", 50 * S)
    board.decoder.resync()
    assert board.decoder.feed(b"06,20100000\n1012,20200000\n", 51 * S) == [
        Reading(0, 51 * S, 1012.0),
        Reading(1, 51 * S, 20.2),
    ]
