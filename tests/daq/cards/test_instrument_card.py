"""What an instrument card may say, and what a person is told where it says something else."""

from __future__ import annotations

import pytest

from daq.cards.instrument import ChannelCard, parse_instrument_card
from daq.errors import CardError
from daq.model.quantity import Quantity

_TOP = 'name = "bench-meter"\ntitle = "A meter"\nprotocol = "text"\n'
_CHANNEL = '[[channel]]\nquantity = "ac_voltage"\n'


def _told(text: str) -> str:
    with pytest.raises(CardError) as caught:
        parse_instrument_card(text, origin="meter.toml")
    said = str(caught.value)
    assert said.startswith("Instrument card meter.toml")
    return said


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("scale = 0", "scale = 0 would make every reading 0"),
        ("scale = 1e13", "scale = 10000000000000.0 is absurd"),
        ("offset = -1e12", "offset = -1000000000000.0 is absurd"),
        ("offset = nan", "offset = nan is absurd"),
        ("resolution = 0.0", "resolution = 0.0 must be above 0, in V"),
        ("resolution = 1e6", "resolution = 1000000.0 must be above 0, in V"),
        ("marks_per_revolution = 0", "marks_per_revolution = 0 must be from 1 to 10000"),
        ("marks_per_revolution = 10001", "marks_per_revolution = 10001 must be from 1 to 10000"),
        ("response = { window_s = -0.1 }", "response.window_s = -0.1 must be from 0 to 60 s"),
        ("response = { delay_s = 61 }", "response.delay_s = 61.0 must be from 0 to 60 s"),
        ("response = { interval_s = nan }", "response.interval_s = nan must be from 0 to 60 s"),
        ("accuracy = { percent_of_reading = 101 }", "percent_of_reading from 0 to 100"),
        ("accuracy = { counts = -1 }", "counts from 0 to 1000"),
    ],
)
def test_a_channel_that_makes_no_sense_is_refused_in_words(line: str, told: str) -> None:
    assert told in _told(f"{_TOP}{_CHANNEL}{line}\n")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (_TOP.replace("bench-meter", "bench meter") + _CHANNEL, "may hold letters, digits"),
        (_TOP.replace("bench-meter", "") + _CHANNEL, "name = ''"),
        ("channel = []\n" + _TOP, "needs 1 to 64 [[channel]] tables, this one has 0"),
        (_TOP + _CHANNEL * 65, "this one has 65"),
        (f"silence_s = 0.05\n{_TOP}{_CHANNEL}", "silence_s = 0.05 must be from 0.1 to 3600 s"),
        (f"silence_s = 3601\n{_TOP}{_CHANNEL}", "silence_s = 3601.0 must be from 0.1 to 3600 s"),
    ],
)
def test_a_card_that_makes_no_sense_is_refused_in_words(text: str, told: str) -> None:
    assert told in _told(text)


def test_text_that_is_no_toml_is_told_with_its_place() -> None:
    said = _told(_TOP + "[[channel\n")
    assert "is not valid TOML" in said
    assert "line 4" in said


def test_the_ends_of_each_range_are_taken() -> None:
    card = parse_instrument_card(
        f"silence_s = 0.1\n{_TOP}{_CHANNEL}marks_per_revolution = 10000\nscale = -1.0\nresolution = 0.001\n"
        "response = { window_s = 0, delay_s = 60 }\naccuracy = { percent_of_reading = 100, counts = 1000 }\n",
        origin="meter.toml",
    )
    (channel,) = card.channel
    assert (channel.scale, channel.marks_per_revolution, channel.response.delay_s) == (-1.0, 10_000, 60.0)
    assert channel.accuracy is not None
    assert (channel.accuracy.percent_of_reading, channel.accuracy.counts) == (100.0, 1000.0)


def test_a_channel_made_by_a_driver_is_held_to_the_same_rules() -> None:
    with pytest.raises(ValueError, match="must be above 0, in rpm"):
        ChannelCard(quantity=Quantity.ROTATIONAL_SPEED, resolution=-1.0)
