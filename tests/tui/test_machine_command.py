"""``spinvolt machine``: questions on standard output, answers on standard input, as a real process."""

from __future__ import annotations

import io
import subprocess
from pathlib import Path

import pytest

from daq.cards.machine import parse_machine_card
from daq.cards.machine_parts import AlternatorClass
from tests.tui.program import Ran, spinvolt, spinvolt_here, start

OPENS_NO_TERMINAL = True


def answered(folder: Path, *arguments: str, answers: list[str]) -> Ran:
    with start("machine", *arguments, folder=folder, stdin=subprocess.PIPE) as process:
        out, err = process.communicate("".join(f"{answer}\n" for answer in answers), timeout=60)
    return Ran(process.returncode, out, err, folder)


ANSWERS = ["cart", "A cart", "3", "fast", "3600", "", "", "20 V", *[""] * 10]
"""One nonsense among them; then blanks up to the loads."""


def test_a_card_by_questions_can_be_used_at_once(tmp_path: Path) -> None:
    ran = answered(tmp_path, "new", answers=[*ANSWERS, "pump", "3.6", "50", ""])
    assert ran.status == 0, ran.err
    assert "'fast' is no number" in ran.out
    assert "charging_current_a is open: the judgement of the charging amps has to do without it." in ran.out
    path = Path(ran.out.split("Written: ")[1].splitlines()[0])
    card = parse_machine_card(path.read_text(), origin=path.name)
    assert card.alternator is AlternatorClass.REGULATED
    assert card.minimum_ac_voltage_v == 20.0
    assert [(load.name, load.current_a, load.share) for load in card.load] == [("pump", 3.6, 0.5)]
    assert card.battery is None
    started = spinvolt("job", "start", "job.jsonl", "--machine", "cart", folder=tmp_path)
    assert started.status == 0, started.err


def test_answers_that_end_too_soon_write_nothing(tmp_path: Path) -> None:
    ran = answered(tmp_path, "new", "--to", "card.toml", answers=["cart", "A cart"])
    assert ran.status == 2
    assert "ended before all was asked" in ran.err
    assert not (tmp_path / "card.toml").exists()


def test_a_card_that_is_there_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "card.toml").write_text("mine")
    ran = answered(tmp_path, "new", "--to", "card.toml", answers=[*ANSWERS, ""])
    assert ran.status == 1
    assert "exists already" in ran.err
    assert (tmp_path / "card.toml").read_text() == "mine"


def test_which_alternator_is_it(tmp_path: Path) -> None:
    ran = answered(tmp_path, "which", answers=["1", "maybe", "yes"])
    assert ran.status == 0, ran.err
    assert "'maybe' is none of yes, no." in ran.out
    assert "It is: DC only" in ran.out
    assert 'alternator = "dc_only"' in ran.out
    assert "Colours of leads and plugs are each maker's own" in ran.out


def test_what_is_not_known_leaves_what_it_can_be(tmp_path: Path) -> None:
    ran = answered(tmp_path, "which", answers=["2", "", "", ""])
    assert ran.status == 0
    assert "It can be: " in ran.out
    assert "DC only" not in ran.out.split("It can be: ")[1].splitlines()[0]


def test_which_that_ends_too_soon_says_nothing_of_a_card(tmp_path: Path) -> None:
    ran = answered(tmp_path, "which", answers=["2"])
    assert ran.status == 2
    assert "which alternator it is was not decided" in ran.err
    assert "card" not in ran.err


def test_going_back_and_not_knowing_over_the_command_line(tmp_path: Path) -> None:
    answers = ["back", "cart", "A cart", "1", "back", "3", *["don't know"] * 20]
    ran = answered(tmp_path, "new", "--to", "cart.toml", answers=answers)
    assert ran.status == 0, ran.err
    assert "This is the first question." in ran.out
    card = parse_machine_card((tmp_path / "cart.toml").read_text(), origin="cart.toml")
    assert (card.name, card.alternator) == ("cart", AlternatorClass.REGULATED)


@pytest.mark.parametrize("after", range(0, 21, 4))
def test_the_end_of_the_input_anywhere_is_one_sentence_and_no_card(
    after: int, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("\n" * min(after, 17)))
    ran = spinvolt_here("machine", "new", "--to", "card.toml", folder=tmp_path, capsys=capsys)
    assert (ran.status, ran.err.count("\n")) == (2, 1)
    assert "no card was written" in ran.err
    assert not (tmp_path / "card.toml").exists()


def test_before_a_running_stator_is_measured_its_caution_is_said(tmp_path: Path) -> None:
    ran = answered(tmp_path, "which", answers=["2", "", "", ""])
    caution, question = ran.out.find("put clips on with the engine"), ran.out.find("Engine at work speed")
    assert 0 <= caution < question
    assert ran.out.count("IEC 61010-1") == 1
