"""The text decoder as a stream: cut anywhere, with junk anywhere."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import CardError, ChannelCard, InstrumentCard, Quality, Quantity, Reading
from drivers.text import DRIVER
from drivers.text.decoder import TextDecoder
from drivers.text.settings import TextSettings, parse_settings

SAMPLE = b"AC 19.62 V\r\n19.70 V\n\r\nOL\r\n12.6 V DC\r19.80\r\n"
VALUES = [19.62, 19.70, None, 12.6, 19.80]
QUALITIES = [Quality.GOOD, Quality.GOOD, Quality.OVERLOAD, Quality.WRONG_FUNCTION, Quality.GOOD]
JUNK = [b"\x00\xff\x13\r\n", b"*** no number ***\n", b"x" * 600 + b"\n", b"\xc3\x28\x8f 1.5\r"]


def decoder(max_line: int = 256, scale: float = 1.0, offset: float = 0.0) -> TextDecoder:
    channel = ChannelCard(Quantity.AC_VOLTAGE, scale=scale, offset=offset)
    return TextDecoder(channel, TextSettings(max_line=max_line))


def values(readings: list[Reading]) -> list[float | None]:
    return [reading.value for reading in readings]


def test_each_sample_cut_at_every_byte_gives_the_same_readings() -> None:
    for cut in range(len(SAMPLE) + 1):
        d = decoder()
        readings = d.feed(SAMPLE[:cut], 1) + d.feed(SAMPLE[cut:], 2)
        assert values(readings) == VALUES, f"cut at {cut}"
        assert [r.quality for r in readings] == QUALITIES


def test_byte_by_byte_each_reading_has_the_stamp_of_its_line_end() -> None:
    d = decoder()
    stamps = [r.t_ns for n, byte in enumerate(SAMPLE) for r in d.feed(bytes([byte]), n)]
    assert stamps == [
        SAMPLE.index(end) + len(end) - 1 for end in (b"62 V\r", b"70 V\n", b"OL\r", b"DC\r", b".80\r")
    ]


@pytest.mark.parametrize("junk", JUNK)
def test_junk_before_between_and_after_costs_one_bad_frame_each_and_no_reading(junk: bytes) -> None:
    readings = decoder().feed(junk + b"19.62 V\r\n" + junk + b"19.70 V\r\n" + junk, 5)
    assert [r.quality for r in readings] == [Quality.BAD_FRAME, Quality.GOOD] * 2 + [Quality.BAD_FRAME]
    assert values(readings) == [None, 19.62, None, 19.70, None]


def test_a_stream_without_line_ends_is_one_bad_frame_and_holds_no_memory() -> None:
    d = decoder(max_line=64)
    readings = [r for n in range(1000) for r in d.feed(b"1" * 100, n)]
    assert [(r.value, r.quality) for r in readings] == [(None, Quality.BAD_FRAME)]
    assert values(d.feed(b"\n19.62\n", 1001)) == [19.62]


def test_an_unfinished_line_is_a_bad_frame_at_the_end_of_the_link() -> None:
    d = decoder()
    d.feed(b"19.62 V\r\n19.", 7)
    assert d.flush() == [Reading(0, 7, None, Quality.BAD_FRAME)]
    assert d.flush() == []
    assert values(d.feed(b"19.70\n", 8)) == [19.70]


def test_the_rest_of_a_cut_line_is_no_reading_after_resync() -> None:
    d = decoder()
    d.feed(b"1", 1)
    d.resync()
    assert values(d.feed(b"9.62 V\r\n19.70 V\r\n", 2)) == [19.70]


def test_scale_and_offset_of_the_card_apply() -> None:
    (reading,) = decoder(scale=10.0, offset=-1.0).feed(b"1.962\n", 1)
    assert reading.value == pytest.approx(18.62)


@given(st.lists(st.binary(max_size=80), max_size=20))
def test_no_bytes_whatever_raise_or_make_it_hold_more_than_its_limit(chunks: list[bytes]) -> None:
    d = decoder(max_line=32)
    for n, chunk in enumerate(chunks):
        for reading in d.feed(chunk, n):
            assert reading.t_ns == n
            assert (reading.value is None) or reading.quality is not Quality.BAD_FRAME
    assert len(d.flush()) <= 1


@given(st.floats(-1e4, 1e4).map(lambda v: round(v, 3)), st.sampled_from(["AC {} V\r\n", "{}\n", "u={} V\r"]))
def test_a_number_comes_back_as_it_was_written(value: float, template: str) -> None:
    assert values(decoder().feed(template.format(f"{value:.3f}").encode(), 1)) == [value]


@pytest.mark.parametrize(
    ("settings", "told"),
    [
        ({"max_line": 4}, "max_line = 4 must be from 8 to 4096"),
        ({"max_lin": 64}, "max_lin"),
        ({"pattern": "([a-z]+"}, "no regular expression"),
        ({"overload_words": [""]}, "overload_words"),
        ({"decimal_comma": "yes"}, "decimal_comma"),
    ],
)
def test_a_bad_setting_is_refused_with_its_key(settings: dict[str, object], told: str) -> None:
    card = InstrumentCard("odd", "odd", "text", (ChannelCard(Quantity.AC_VOLTAGE),), settings=settings)
    with pytest.raises(CardError, match="odd") as caught:
        DRIVER.check(card)
    assert told in str(caught.value)


def test_two_channels_are_refused_for_one_number_a_line() -> None:
    channel = ChannelCard(Quantity.AC_VOLTAGE)
    with pytest.raises(CardError, match="one"):
        parse_settings(InstrumentCard("two", "two", "text", (channel, channel)))
