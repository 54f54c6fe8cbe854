"""The remembered instruments: kept, changed by hand, and made into nonsense."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.cards.instrument import TransportDefaults
from tui.connecting import cards_of, chosen_spec, last_used, machine_trouble
from tui.remembered import Remembered, Used, load_remembered, save_remembered

CHOICE = Remembered(
    (
        Used("scpi-meter", "/dev/ttyUSB0"),
        Used(
            "text-speed", "socket://192.168.1.20:7000", TransportDefaults(baud=2400, parity="even", dtr=True)
        ),
    ),
    "nursery-sprayer",
)


def test_what_is_kept_comes_back(tmp_path: Path) -> None:
    path = tmp_path / "new" / "instruments.toml"
    assert load_remembered(path) == (Remembered(), "")
    assert save_remembered(path, CHOICE) == ""
    assert load_remembered(path) == (CHOICE, "")
    assert save_remembered(path, Remembered()) == ""
    assert load_remembered(path) == (Remembered(), "")
    assert [each.name for each in path.parent.iterdir()] == ["instruments.toml"]


def test_the_file_can_be_read_and_changed_by_hand(tmp_path: Path) -> None:
    path = tmp_path / "instruments.toml"
    save_remembered(path, CHOICE)
    text = path.read_text()
    assert text.startswith("# ")
    assert 'machine = "nursery-sprayer"' in text
    assert 'card = "scpi-meter"' in text
    path.write_text(text.replace("/dev/ttyUSB0", "COM3").replace("machine =", "unknown = 1\nmachine ="))
    found, trouble = load_remembered(path)
    assert trouble == ""
    assert found.instrument[0].address == "COM3"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe", "can't be used"),
        (b"machine = ", "can't be used"),
        (b"machine = 7", "can't be used"),
        (b"instrument = 7", "can't be used"),
        (b"[[instrument]]\ncard = 'a'\n", "can't be used"),
        (b"[[instrument]]\ncard = ''\naddress = 'x'\n", "a card and an address"),
        (b'[[instrument]]\ncard = "a"\naddress = "x\\u001b]0;owned\\u0007"\n', "is no name or address"),
        (b"[[instrument]]\ncard = 'a'\naddress = '" + b"x" * 301 + b"'\n", "is no name or address"),
        (b"[[instrument]]\ncard = 'a'\naddress = 'x'\n[instrument.line]\nbaud = 'fast'\n", "can't be used"),
        (b"[[instrument]]\ncard = 'a'\naddress = 'x'\n" * 9, "more than 8"),
        (b"# " + b"x" * 70_000, "larger than 64 kB"),
        (b"a = " + b"[" * 3000, "can't be used"),
    ],
)
def test_nonsense_is_told_and_left_as_it_is(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "instruments.toml"
    path.write_bytes(content)
    found, trouble = load_remembered(path)
    assert found == Remembered()
    assert said in trouble
    assert str(path) in trouble
    assert path.read_bytes() == content


def test_a_folder_in_its_place_is_told(tmp_path: Path) -> None:
    path = tmp_path / "instruments.toml"
    path.mkdir()
    assert "can't be read" in load_remembered(path)[1]
    assert "can't be written" in save_remembered(path, CHOICE)
    assert [each.name for each in tmp_path.iterdir()] == ["instruments.toml"]


def test_what_could_not_be_read_again_is_not_kept(tmp_path: Path) -> None:
    path = tmp_path / "instruments.toml"
    save_remembered(path, CHOICE)
    assert "not remembered" in save_remembered(path, Remembered((Used("card", "x\n"),)))
    assert load_remembered(path)[0] == CHOICE


NAMES = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=40)
LINES = st.none() | st.builds(TransportDefaults, baud=st.integers(1, 10**7), dtr=st.none() | st.booleans())


@given(
    st.builds(
        Remembered, st.lists(st.builds(Used, NAMES, NAMES, LINES), max_size=8).map(tuple), NAMES | st.just("")
    )
)
def test_any_choice_comes_back(tmp_path_factory: pytest.TempPathFactory, choice: Remembered) -> None:
    path = tmp_path_factory.getbasetemp() / f"any-{os.getpid()}.toml"
    assert save_remembered(path, choice) == ""
    assert load_remembered(path) == (choice, "")


@given(st.binary(max_size=300))
def test_any_content_is_survived(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / f"content-{os.getpid()}.toml"
    path.write_bytes(content)
    found, trouble = load_remembered(path)
    assert isinstance(found, Remembered)
    assert trouble == "" or trouble.endswith(".")


def test_the_line_that_was_heard_goes_into_the_card(tmp_path: Path) -> None:
    line = TransportDefaults(baud=2400)
    chosen = (Used("text-volts", "/dev/ttyUSB0", line), Used("text-speed", "/dev/ttyUSB1"))
    (meter, address), (tach, _) = cards_of(chosen)
    assert (meter.name, meter.transport, address) == ("text-volts", line, "/dev/ttyUSB0")
    assert tach.transport != line
    spec = chosen_spec(tmp_path / "run.jsonl", chosen, machine="nursery-sprayer", seconds=None, force=False)
    assert spec.instruments[0].card["transport"]["baud"] == 2400
    assert spec.machine is not None
    assert spec.machine["name"] == "nursery-sprayer"


def test_instruments_that_are_gone_are_no_hindrance(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SPINVOLT_CONFIG", str(tmp_path))
    assert last_used() == []
    path = tmp_path / "instruments.toml"
    save_remembered(path, Remembered((Used("text-volts", "/dev/ttyUSB0"), Used("keyboard-pair", "keyboard"))))
    assert [(card.name, address) for card, address in last_used()] == [("text-volts", "/dev/ttyUSB0")]
    save_remembered(path, Remembered((Used("no-such-card", "/dev/ttyUSB0"),)))
    assert last_used() == []


def test_a_machine_card_that_is_not_there_is_told() -> None:
    assert machine_trouble("nursery-sprayer") == ""
    assert "no-such-machine" in machine_trouble("no-such-machine")
