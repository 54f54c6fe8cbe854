"""Lines with several values: by delimiter, by pattern, as JSON; and patterns that mean harm."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import CardError, ChannelCard, InstrumentCard, Quality, Quantity, Reading
from drivers.builtin_cards import builtin_cards
from drivers.text import DRIVER
from drivers.text.columns import ColumnsDecoder
from drivers.text.decoder import TextDecoder, make_decoder
from drivers.text.patterns import finder
from drivers.text.settings import parse_settings

SPEED = ChannelCard(Quantity.ROTATIONAL_SPEED)
VOLTS = ChannelCard(Quantity.AC_VOLTAGE)
TIME_MS = ChannelCard(Quantity.DEVICE_TIME, scale=0.001)
GOOD, BAD = Quality.GOOD, Quality.BAD_FRAME


def card_of(*channels: ChannelCard, **settings: object) -> InstrumentCard:
    return InstrumentCard("odd", "odd", "text", channels, settings=settings)


def decoder_of(*channels: ChannelCard, **settings: object) -> ColumnsDecoder:
    card = card_of(*channels, **settings)
    decoder = make_decoder(card.channel, parse_settings(card))
    assert isinstance(decoder, ColumnsDecoder)
    return decoder


def read(decoder: ColumnsDecoder, line: str) -> list[tuple[int, float | None, Quality]]:
    readings = decoder.feed(line.encode() + b"\n", 7)
    assert {r.t_ns for r in readings} <= {7}
    return [(r.channel, r.value, r.quality) for r in readings]


def both(speed: float, volts: float) -> list[tuple[int, float | None, Quality]]:
    return [(0, speed, GOOD), (1, volts, GOOD)]


def test_the_pair_card() -> None:
    card = builtin_cards("text-pair")[0]
    decoder = make_decoder(card.channel, parse_settings(card))
    assert decoder.feed(b"3580,19.62\r\n3581,19.63\r\n", 7) == [
        Reading(0, 7, 3580.0),
        Reading(1, 7, 19.62),
        Reading(0, 7, 3581.0),
        Reading(1, 7, 19.63),
    ]


def test_one_number_a_line_stays_what_it_was() -> None:
    card = card_of(VOLTS)
    assert isinstance(make_decoder(card.channel, parse_settings(card)), TextDecoder)


@pytest.mark.parametrize(
    ("settings", "line"),
    [
        ({"delimiter": ","}, "3580,19.62"),
        ({"delimiter": ","}, " 3580 rpm , 19.62 V AC "),
        ({"delimiter": ","}, "3580,19620 mV"),
        ({"delimiter": ";", "decimal_comma": True}, "3580;19,62"),
        ({"delimiter": " "}, "3580  \t 19.62"),
        ({"delimiter": "\t"}, "3580\t19.62"),
        ({"delimiter": ",", "fields": [3, 1]}, "19.62,x,3580"),
        ({"delimiter": ",", "fields": [1, 2], "field_count": 4}, "3580,19.62,,!"),
        ({"pattern": r"n=(\S+) u=(\S+)"}, "#7 n=3580 u=19.62V ok"),
        ({"pattern": r"^(\d+)/(\d+\.\d+)$"}, "3580/19.62"),
        ({"keys": ["rpm", "volts"]}, '{"volts": 19.62, "rpm": 3580, "more": [1, 2]}'),
        ({"keys": ["engine.rpm", "meter.ac.v"]}, '{"engine": {"rpm": 3580}, "meter": {"ac": {"v": 19.62}}}'),
        ({"keys": ["rpm", "volts"]}, '{"rpm": "3580 rpm", "volts": "19620 mV"}'),
    ],
)
def test_ways_to_read_a_line(settings: dict[str, object], line: str) -> None:
    assert read(decoder_of(SPEED, VOLTS, **settings), line) == both(3580.0, 19.62)


@pytest.mark.parametrize(
    ("settings", "line"),
    [
        ({"delimiter": ","}, "3580"),
        ({"delimiter": ","}, "3580,19.62,1"),
        ({"delimiter": ",", "field_count": 3}, "3580,19.62"),
        ({"pattern": r"n=(\S+) u=(\S+)"}, "n=3580"),
        ({"pattern": r"n=(\S+) u=(\S+)"}, "\N{SNOWMAN}"),
        ({"keys": ["rpm", "volts"]}, "3580,19.62"),
        ({"keys": ["rpm", "volts"]}, '{"rpm": 3580, "volts": 19.62'),
        ({"keys": ["rpm", "volts"]}, "[3580, 19.62]"),
        ({"keys": ["rpm", "volts"]}, '{"rpm": 1e999, "volts": 1}'),
        ({"keys": ["rpm", "volts"]}, "[" * 200),
    ],
)
def test_a_line_that_does_not_fit_is_one_bad_frame(settings: dict[str, object], line: str) -> None:
    assert read(decoder_of(SPEED, VOLTS, **settings), line) == [(0, None, BAD)]


@pytest.mark.parametrize(
    ("settings", "line", "speed", "volts"),
    [
        ({"delimiter": ","}, "3580,OL", (3580.0, GOOD), (None, Quality.OVERLOAD)),
        ({"delimiter": ","}, "3580,", (3580.0, GOOD), (None, Quality.BLANK)),
        ({"delimiter": ","}, "3580,19.62 V DC", (3580.0, GOOD), (19.62, Quality.WRONG_FUNCTION)),
        ({"delimiter": ","}, "3580,19.62 kohm", (3580.0, GOOD), (None, Quality.WRONG_FUNCTION)),
        ({"delimiter": ","}, "x,19.62", (None, BAD), (19.62, GOOD)),
        ({"delimiter": ","}, "9.9E37,9.91E37", (None, Quality.OVERLOAD), (None, Quality.NOT_A_NUMBER)),
        ({"keys": ["rpm", "v"]}, '{"rpm": 9.9E37, "v": null}', (None, Quality.OVERLOAD), (None, Quality.NOT_A_NUMBER)),
        ({"keys": ["rpm", "v"]}, '{"rpm": true, "v": [1]}', (None, BAD), (None, BAD)),
        ({"keys": ["rpm", "v"]}, '{"rpm": 1' + "0" * 400 + ', "v": 1}', (None, BAD), (1.0, GOOD)),
    ],
)  # fmt: skip
def test_each_value_is_judged_by_itself(
    settings: dict[str, object],
    line: str,
    speed: tuple[float | None, Quality],
    volts: tuple[float | None, Quality],
) -> None:
    decoder = decoder_of(SPEED, VOLTS, **settings, max_line=1024)
    assert read(decoder, line) == [(0, *speed), (1, *volts)]


def test_json_that_is_nested_without_end_is_one_bad_frame() -> None:
    decoder = decoder_of(VOLTS, keys=["v"], max_line=4096)
    assert read(decoder, '{"v":' + "[" * 4000) == [(0, None, BAD)]


def test_a_line_need_not_speak_of_every_channel() -> None:
    decoder = decoder_of(SPEED, VOLTS, keys=["rpm", "volts"])
    assert read(decoder, '{"volts": 19.62}') == [(1, 19.62, GOOD)]
    assert read(decoder, '{"status": "ready"}') == []
    optional = decoder_of(SPEED, VOLTS, pattern=r"(?:n=(\d+))?(?: ?u=([\d.]+))?$")
    assert read(optional, "n=3580") == [(0, 3580.0, GOOD)]


def test_lines_that_are_passed_over() -> None:
    decoder = decoder_of(SPEED, VOLTS, delimiter=",", pass_over="#")
    assert read(decoder, "# rpm,volts") == []
    assert read(decoder, "rpm,volts") == [(0, None, BAD), (1, None, BAD)]


def test_scale_and_offset_are_each_channels_own() -> None:
    tenths = ChannelCard(Quantity.ROTATIONAL_SPEED, scale=0.1)
    shifted = ChannelCard(Quantity.AC_VOLTAGE, offset=0.5)
    assert read(decoder_of(tenths, shifted, delimiter=","), "35800,19") == both(3580.0, 19.5)


def test_device_time_and_its_wrap() -> None:
    decoder = decoder_of(SPEED, TIME_MS, delimiter=",", time_bits=16)
    times = [read(decoder, f"3580,{ms % 65_536}")[1][1] for ms in range(60_000, 200_000, 5_000)]
    assert times == pytest.approx([ms / 1000 for ms in range(60_000, 200_000, 5_000)])


def test_a_device_that_starts_anew_is_no_wrap() -> None:
    decoder = decoder_of(SPEED, TIME_MS, delimiter=",", time_bits=32)
    times = [read(decoder, f"3580,{ms}")[1][1] for ms in (1000, 2000, 50, 1050)]
    assert times == [1.0, 2.0, 0.05, 1.05]


def test_without_bits_the_device_time_is_taken_as_it_comes() -> None:
    decoder = decoder_of(SPEED, TIME_MS, delimiter=",")
    assert [read(decoder, f"1,{ms}")[1][1] for ms in (65_000, 500)] == [65.0, 0.5]


HOSTILE = [r"^(a+)+$", r"^(a|aa)+$", r"^(a|a?)+$", r"^(?:(?:a*)*)*(b)$", r"^(\w+\s?)*$"]


@pytest.mark.parametrize("pattern", HOSTILE)
def test_a_pattern_can_never_hang_the_program(pattern: str) -> None:
    """Python's own engine tries every way to cut the line up: its time doubles with each letter or two."""
    decoder = decoder_of(VOLTS, pattern=pattern, max_line=4096)
    started = time.process_time()
    for _ in range(10):
        assert decoder.feed(b"a" * 4000 + b"!\n", 7) == [Reading(0, 7, None, BAD)]
    assert time.process_time() - started < 0.5


def test_the_time_of_a_pattern_is_linear_in_the_line() -> None:
    """Ten times the length may take ten times as long, not a hundred times (with room for a noisy machine)."""
    decoder = decoder_of(VOLTS, pattern=r"(x+x+)+y", max_line=4096)

    def cost(length: int) -> float:
        started = time.process_time()
        for _ in range(4000 // length * 50):
            decoder.feed(b"x" * length + b"\n", 7)
        return time.process_time() - started

    assert cost(4000) < 10 * cost(400) + 0.1


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"pattern": "(a"}, "no regular expression for RE2: missing )"),
        ({"pattern": r"(a)\1"}, "invalid escape sequence"),
        ({"pattern": r"(?=a)(b)"}, "invalid perl operator"),
        ({"pattern": "((a{900}){900}){900}"}, "no regular expression"),
        ({"pattern": "a"}, "one group in parentheses for each [[channel]]: 0 and 1"),
        ({"pattern": "(a)(b)"}, "2 and 1"),
        ({"pattern": ""}, "1 to 500"),
        ({"pattern": "(" + "a" * 600 + ")"}, "1 to 500"),
        ({"pattern": "(a)", "delimiter": ","}, "give one of them"),
        ({"delimiter": ",", "keys": ["a"]}, "give one of them"),
        ({"delimiter": "."}, "none that stands in a number"),
        ({"delimiter": "-----"}, "1 to 4 characters"),
        ({"delimiter": ",", "decimal_comma": True}, "can't be parted by commas"),
        ({"delimiter": ",", "fields": [0]}, "fields must be from 1"),
        ({"delimiter": ",", "fields": [1, 2]}, "one place for each [[channel]]: 2 and 1"),
        ({"delimiter": ",", "fields": [3], "field_count": 2}, "from 1 to field_count"),
        ({"delimiter": ",", "field_count": 0}, "field_count = 0"),
        ({"fields": [1]}, "go with delimiter only"),
        ({"keys": ["a", "b"]}, "one key for each [[channel]]: 2 and 1"),
        ({"keys": ["a"], "require_unit": True}, "require_unit"),
        ({"delimiter": ",", "time_bits": 32}, "device_time"),
        ({"delimiter": ",", "time_bits": 3}, "from 8 to 64"),
    ],
)
def test_a_bad_setting_is_refused_with_its_key(settings: dict[str, object], told: str) -> None:
    with pytest.raises(CardError, match="odd") as caught:
        DRIVER.check(card_of(VOLTS, **settings))
    assert told in str(caught.value)


@given(st.lists(st.binary(max_size=300), max_size=10))
def test_any_bytes_may_come(chunks: list[bytes]) -> None:
    for settings in ({"delimiter": ","}, {"keys": ["a", "b"]}, {"pattern": r"(\d+)\D+(\d+)"}):
        decoder = decoder_of(SPEED, VOLTS, **settings)
        for chunk in chunks:
            for reading in decoder.feed(chunk, 7):
                assert reading.channel in (0, 1)
                assert reading.value is None or reading.quality is not BAD


def test_the_card_tells_when_the_pattern_engine_is_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "re2", None)
    with pytest.raises(CardError, match="needs the package google-re2"):
        DRIVER.check(card_of(VOLTS, pattern="(a)"))


def test_a_pattern_is_told_as_it_stands_in_the_card() -> None:
    with pytest.raises(ValueError, match="no regular expression") as caught:
        finder(r"n=(\S+ u=(\d+)" + "\x01", 2)
    assert str(caught.value).startswith(
        r"pattern 'n=(\S+ u=(\d+)\x01' is no regular expression for RE2: missing )"
    )
    assert "\\\\" not in str(caught.value)
