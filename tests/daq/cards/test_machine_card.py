"""The machine card: what it takes, what it refuses, and what it leaves open."""

from __future__ import annotations

from importlib.resources import files

import msgspec
import pytest

from daq.cards.machine import MachineCard, parse_machine_card
from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import open_points, source_of
from daq.errors import CardError

BARE = 'name = "x"\ntitle = "y"\nrated_speed_rpm = 3600\n'


def built_in() -> list[MachineCard]:
    folder = files("daq") / "cards" / "machines"
    return [
        parse_machine_card(file.read_text("utf-8"), origin=file.name)
        for file in folder.iterdir()
        if file.name.endswith(".toml")
    ]


def test_there_is_a_built_in_card_for_each_class() -> None:
    assert {card.alternator for card in built_in()} == set(AlternatorClass)


def test_every_value_of_a_built_in_card_names_its_source() -> None:
    for card in built_in():
        given = {
            key
            for key, value in msgspec.structs.asdict(card).items()
            if value not in (None, ()) and key not in {"name", "title", "sources", "notes"}
        }
        assert given == set(card.sources), card.name
        assert all(card.sources.values())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("charging_voltage_v = [14.8, 13.5]", "must rise"),
        ("winding_resistance_ohm = [-0.1, 0.2]", "winding_resistance_ohm = -0.1"),
        ("idle_speed_rpm = 4000", "idle_speed_rpm = 4000 must be from 50 to 3600 rpm"),
        ('alternator = "dynamo"', "alternator"),
        ("[battery]\nnominal_voltage_v = 13", "nominal_voltage_v"),
        ("[battery]\ncapacity_ah = 0", "battery.capacity_ah = 0"),
        ("[duty]\nidle_share = 1.2", "duty.idle_share = 1.2"),
        ('[[load]]\nname = "a"\ncurrent_a = 1\n[[load]]\nname = "a"\ncurrent_a = 2', "a name of its own"),
        ('[[load]]\nname = "lamp"\ncurrent_a = 1\nshare = 30', "load 'lamp': share = 30"),
    ],
)
def test_absurd_values_are_refused_by_name(line: str, said: str) -> None:
    with pytest.raises(CardError, match="Machine card mine.toml") as caught:
        parse_machine_card(BARE + line, origin="mine.toml")
    assert said in str(caught.value)


def test_what_is_open_is_said_with_the_judgement_that_needs_it() -> None:
    said = " ".join(open_points(parse_machine_card(BARE, origin="x")))
    for key in ("alternator", "minimum_ac_voltage_v", "battery", "load", "duty.idle_share"):
        assert f"{key} is open" in said
    assert "judgement of the AC output" in said


def test_a_machine_that_charges_nothing_needs_no_battery() -> None:
    said = " ".join(open_points(parse_machine_card(BARE + 'alternator = "ac_only"', origin="x")))
    assert "battery" not in said
    assert "minimum_ac_voltage_v" in said


def test_a_full_card_leaves_nothing_open() -> None:
    sprayer = next(card for card in built_in() if card.name == "nursery-sprayer")
    assert open_points(sprayer) == ()


def test_work_speed_is_the_dutys_or_the_rated_one() -> None:
    assert parse_machine_card(BARE, origin="x").work_speed_rpm == 3600
    assert parse_machine_card(BARE + "[duty]\nwork_speed_rpm = 3200", origin="x").work_speed_rpm == 3200


def test_a_value_without_a_source_says_so() -> None:
    card = parse_machine_card(BARE, origin="x")
    assert source_of(card, "pole_pairs") == "the machine card, which names no source"
