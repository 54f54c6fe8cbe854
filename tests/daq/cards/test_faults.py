"""A card that is wrong is told in the words of whoever wrote it, not of the library that checked it."""

from __future__ import annotations

import msgspec
import pytest

from daq.cards.faults import card_fault_words
from daq.cards.instrument import parse_instrument_card
from daq.cards.machine import MachineCard, parse_machine_card
from daq.errors import CardError

GOOD = 'name = "m"\ntitle = "m"\nrated_speed_rpm = 3600\n'
METER = 'name = "m"\ntitle = "m"\nprotocol = "text"\n[[channel]]\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('name = "m"\ntitle = "m"\n', "the key rated_speed_rpm is missing"),
        (GOOD + "speeed = 3\n", "there is no key speeed; accepted: name, title"),
        (GOOD.replace("3600", '"fast"'), "rated_speed_rpm must be a number, not text in quotes"),
        (GOOD + 'pole_pairs = "six"\n', "pole_pairs must be a whole number, not text in quotes"),
        (GOOD.replace("3600", "3"), "rated_speed_rpm = 3 must be from 100 to 30000 rpm"),
        (GOOD + "minimum_ac_voltage_v = -20\n", "minimum_ac_voltage_v = -20 must be from 0.1 to 1000 V"),
    ],
)
def test_a_machine_card(text: str, words: str) -> None:
    with pytest.raises(CardError) as caught:
        parse_machine_card(text, origin="mine.toml")
    assert words in str(caught.value)
    assert str(caught.value).startswith("Machine card mine.toml: ")
    assert "Object" not in str(caught.value)
    assert "$" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (METER, "in channel 1, the key quantity is missing"),
        (
            METER + 'quantity = "volts"\n',
            "channel 1.quantity can't be 'volts'; accepted: ac_voltage, dc_voltage,",
        ),
        (
            METER + 'quantity = "ac_voltage"\nscale = "1"\n',
            "channel 1.scale must be a number, not text in quotes",
        ),
        (
            METER + 'quantity = "ac_voltage"\nscale = 0\n',
            "in channel 1, scale = 0 would make every reading 0",
        ),
        (
            METER + 'quantity = "ac_voltage"\n[channel.accuracy]\ncount = 3\n',
            "in channel 1.accuracy, there is no key count; accepted: percent_of_reading, counts",
        ),
        (
            METER + 'quantity = "ac_voltage"\nac_response = "peak"\n',
            "channel 1.ac_response can't be 'peak'; accepted: true_rms, average",
        ),
    ],
)
def test_an_instrument_card(text: str, words: str) -> None:
    with pytest.raises(CardError) as caught:
        parse_instrument_card(text, origin="mine.toml")
    assert words in str(caught.value)
    assert "`$" not in str(caught.value)


def test_a_key_that_passes_for_a_place_is_looked_through_once() -> None:
    """From each bracket anew, it would outlast the suite's patience with one test."""
    error = msgspec.ValidationError("Object contains unknown field `x` - at `$" + "[" * 1_000_000 + "`")
    assert card_fault_words(error, MachineCard).startswith("in [[[")
