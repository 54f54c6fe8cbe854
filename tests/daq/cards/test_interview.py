"""``machine new``: one question at a time, blank leaves open, nonsense is asked again."""

from __future__ import annotations

import msgspec
import pytest

from daq.cards.interview import Interview
from daq.cards.machine import parse_machine_card
from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import COMMON_PRACTICE
from daq.cards.questions import LOAD_QUESTIONS
from tui.tomltext import toml_text


def run(answers: dict[str, str | list[str]]) -> tuple[Interview, list[str], list[str]]:
    """Answer by key, blank where nothing is given; a list is used up in turn."""
    interview, asked, refused = Interview(), [], []
    left = {key: [value] if isinstance(value, str) else list(value) for key, value in answers.items()}
    while (question := interview.question) is not None:
        asked.append(question.key)
        answer = left[question.key].pop(0) if left.get(question.key) else ""
        sentence = interview.answer(answer)
        if sentence:
            refused.append(sentence)
        assert len(asked) < 100
    return interview, asked, refused


NAMES: dict[str, str | list[str]] = {"name": ["cart", ""], "title": "A cart"}


def test_blank_answers_leave_everything_open_but_what_can_not_be() -> None:
    interview, _, refused = run(NAMES)
    card = interview.card()
    assert refused == []
    assert (card.minimum_ac_voltage_v, card.battery, card.load, card.duty) == (None, None, (), None)
    assert card.rated_speed_rpm == 3600
    assert card.sources["rated_speed_rpm"] == COMMON_PRACTICE
    assert "minimum_ac_voltage_v" not in card.sources


def test_a_whole_card() -> None:
    interview, _, refused = run(
        {
            "name": ["cart", "pump", "lamp", ""],
            "title": "A cart",
            "alternator": "3",
            "rated_speed_rpm": "3550 rpm",
            "minimum_ac_voltage_v": "20,5 V",
            "winding_resistance_ohm": "0.22-0.28",
            "charging_current_a": "8 12 A",
            "battery.nominal_voltage_v": "12 V",
            "battery.capacity_ah": "18 Ah",
            "battery.chemistry": "AGM",
            "duty.idle_share": "30 %",
            "current_a": ["3.6", "2"],
            "share": ["50", ""],
        }
    )
    card = interview.card()
    assert refused == []
    assert card.alternator is AlternatorClass.REGULATED
    assert (card.rated_speed_rpm, card.minimum_ac_voltage_v) == (3550, 20.5)
    assert card.winding_resistance_ohm == (0.22, 0.28)
    assert card.charging_current_a == (8.0, 12.0)
    assert card.battery is not None
    assert (card.battery.capacity_ah, card.battery.chemistry) == (18, "agm")
    assert card.duty is not None
    assert card.duty.idle_share == 0.3
    assert [(load.name, load.current_a, load.share) for load in card.load] == [
        ("pump", 3.6, 0.5),
        ("lamp", 2, 1),
    ]
    assert "typed in" in card.sources["load"]


def test_what_does_not_apply_is_not_asked() -> None:
    _, asked, _ = run({**NAMES, "alternator": "1"})
    assert "minimum_ac_voltage_v" in asked
    assert not [key for key in asked if key.startswith(("battery", "duty", "charging"))]
    _, asked, _ = run({**NAMES, "alternator": "2"})
    assert "minimum_ac_voltage_v" in asked  # ahead of the diode there are AC volts to be judged
    assert "battery.capacity_ah" in asked
    assert "charging_current_a" in asked


def test_nonsense_is_told_and_asked_again() -> None:
    interview, asked, refused = run(
        {
            "name": ["../etc", "cart", "pump", ""],
            "title": "A cart",
            "alternator": ["seven", "2"],
            "rated_speed_rpm": ["fast", "3600 V", "1e9", "3600"],
            "winding_resistance_ohm": ["0.3 0.1", "0.1 0.3"],
            "pole_pairs": ["6.5", "6"],
            "battery.nominal_voltage_v": ["13", "12"],
            "current_a": ["-4", "4"],
        }
    )
    assert len(refused) == 9
    assert asked.count("rated_speed_rpm") == 4
    assert any("'3600 V' is in V; this is asked for in rpm" in sentence for sentence in refused)
    assert any("least first" in sentence for sentence in refused)
    assert interview.card().rated_speed_rpm == 3600
    assert interview.card().load[0].current_a == 4


@pytest.mark.parametrize("word", ["", "?", "don't know", "Unknown", "-"])
def test_every_question_can_be_answered_by_not_knowing(word: str) -> None:
    interview = Interview()
    asked = 0
    while interview.question is not None:
        assert interview.answer(word) == ""
        asked += 1
        assert asked < 40
    card = interview.card()
    assert (card.name, card.alternator, card.load) == ("my-machine", None, ())
    table = {key: value for key, value in msgspec.to_builtins(card).items() if value not in ((), [])}
    assert parse_machine_card(toml_text(table), origin="my-machine.toml") == card


def test_a_load_of_unknown_amps_is_left_out_and_that_is_told() -> None:
    interview = Interview()
    while interview.question is not LOAD_QUESTIONS[0]:
        interview.answer("")
    assert interview.answer("pump") == ""
    assert interview.answer("don't know") == ""
    assert "pump is left out" in interview.remark
    assert interview.question is LOAD_QUESTIONS[0]
    assert interview.answer("") == ""
    assert interview.remark == ""
    assert interview.card().load == ()


def test_back_goes_back_one_question_from_anywhere() -> None:
    interview = Interview()
    assert interview.answer("back") == "This is the first question."
    keys = []
    while interview.question is not None:
        key = interview.question.key
        keys.append(key)
        assert interview.answer({"alternator": "1", "title": "A pump"}.get(key, "")) == ""
    assert keys[:3] == ["name", "title", "alternator"]
    again = Interview()
    again.answer("cart")
    again.answer("A cart")
    again.answer("1")
    assert again.answer("back") == ""
    assert again.question is not None
    assert again.question.key == "alternator"
    again.answer("2")
    assert again.card().alternator is AlternatorClass.DC_ONLY
    again.answer("<")
    again.answer("<")
    assert again.question.key == "title"
    again.answer("Another cart")
    assert again.card().title == "Another cart"
    assert again.card().alternator is None


def test_back_within_a_load() -> None:
    interview = Interview()
    while interview.question is not LOAD_QUESTIONS[0]:
        interview.answer("")
    interview.answer("pump")
    interview.answer("4")
    assert interview.question is LOAD_QUESTIONS[2]
    interview.answer("back")
    assert interview.question is LOAD_QUESTIONS[1]
    interview.answer("5")
    interview.answer("50")
    interview.answer("")
    assert [(load.name, load.current_a, load.share) for load in interview.card().load] == [("pump", 5.0, 0.5)]


@pytest.mark.parametrize(
    ("typed", "chemistry"), [("4", "lithium"), ("Lithium", "lithium"), ("5", "other"), ("other", "other")]
)
def test_a_battery_that_is_no_lead_acid_one_can_be_said(typed: str, chemistry: str) -> None:
    interview, _, refused = run({**NAMES, "alternator": "3", "battery.chemistry": typed})
    assert refused == []
    battery = interview.card().battery
    assert battery is not None
    assert (battery.chemistry, battery.lead_acid) == (chemistry, False)
    assert interview.card() == parse_machine_card(
        toml_text(msgspec.to_builtins(interview.card())), origin="typed"
    )
