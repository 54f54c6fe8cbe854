"""Cards by name or by file; the user's own come first, and a broken one harms nobody."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from daq.catalog import BUILT_IN, config_folder, instrument_card, load_catalog, machine_card
from daq.driver_api import Clock, Driver, Instrument, InstrumentCard
from daq.errors import CardError, DriverError
from daq.registry import Registry, load_registry

REGISTRY = load_registry()
MINE = """
name = "{name}"
title = "my meter"
protocol = "text"
[settings]
{settings}
[[channel]]
quantity = "ac_voltage"
"""


def put(folder: Path, file: str, text: str | bytes) -> Path:
    path = folder / "cards" / file
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SPINVOLT_CONFIG", str(tmp_path))
    return tmp_path


def test_the_built_in_cards_are_there_without_any_folder(folder: Path) -> None:
    catalog = load_catalog(REGISTRY)
    assert {"scpi-meter", "text-volts", "text-speed"} <= set(catalog.instruments)
    assert {"class-10a-regulated-ac", "nursery-sprayer"} <= set(catalog.machines)
    assert {found.origin for found in catalog.instruments.values()} == {BUILT_IN}
    assert catalog.broken == ()


def test_a_card_of_the_users_own_is_found_and_wins_over_the_built_in_one(folder: Path) -> None:
    path = put(folder, "mine.toml", MINE.format(name="text-volts", settings="max_line = 99"))
    assert instrument_card("text-volts", REGISTRY).settings == {"max_line": 99}
    assert load_catalog(REGISTRY).instruments["text-volts"].origin == str(path)


def test_a_machine_card_of_the_users_own_is_told_from_an_instrument_card(folder: Path) -> None:
    put(folder, "cart.toml", 'name = "cart"\ntitle = "a cart"\nrated_speed_rpm = 3000\n')
    assert machine_card("cart").rated_speed_rpm == 3000
    assert "cart" not in load_catalog(REGISTRY).instruments


def test_a_card_is_read_from_the_path_of_its_file(tmp_path: Path, folder: Path) -> None:
    path = tmp_path / "elsewhere.toml"
    path.write_text(MINE.format(name="mine", settings=""))
    assert instrument_card(str(path), REGISTRY).name == "mine"
    path.write_text('name = "cart"\ntitle = "a cart"\nrated_speed_rpm = 3000\n')
    assert machine_card(str(path)).name == "cart"


@pytest.mark.parametrize(
    ("file", "text", "told"),
    [
        ("toml.toml", "name = ", "not valid TOML"),
        ("what.toml", 'colour = "red"', "neither an instrument card"),
        ("text.toml", b"\xff\xfe\x00", "not UTF-8"),
        ("big.toml", b"#" * ((1 << 16) + 1), "larger than 64 kB"),
        ("deep.toml", "a=" + "[" * 30_000, "nested more than 32 deep"),
        ("bigint.toml", "a = " + "1" * 5000, "far too many digits"),
        ("dots.toml", "a." * 30_000 + "a = 1", "dotted key of more than 16 names"),
        ("key.toml", MINE.format(name="k", settings="") + 'colour = "red"', "colour"),
        ("setting.toml", MINE.format(name="s", settings="max_lin = 9"), "max_lin"),
        ("driver.toml", MINE.format(name="d", settings="").replace('"text"', '"smoke"'), "smoke"),
        ("speed.toml", 'name = "c"\ntitle = "c"\nrated_speed_rpm = 5\n', "rated_speed_rpm = 5"),
    ],
)
def test_a_broken_card_is_listed_with_its_reason_and_harms_no_other(
    file: str, text: str | bytes, told: str, folder: Path
) -> None:
    path = put(folder, file, text)
    put(folder, "good.toml", MINE.format(name="good", settings=""))
    catalog = load_catalog(REGISTRY)
    (broken,) = catalog.broken
    assert broken.origin == str(path)
    assert told in broken.reason
    assert str(path) in broken.reason, "which file it is, whoever finds the fault"
    assert catalog.instrument("good").title == "my meter"
    assert catalog.instrument("text-volts").protocol == "text"


def test_what_is_no_ordinary_file_is_told_and_not_waited_for(folder: Path, tmp_path: Path) -> None:
    pipe = put(folder, "pipe.toml", "")
    pipe.unlink()
    os.mkfifo(pipe)
    put(folder, "good.toml", MINE.format(name="good", settings=""))
    put(folder, "folder.toml", "").unlink()
    (pipe.parent / "folder.toml").mkdir()
    catalog = load_catalog(REGISTRY)
    assert [Path(broken.origin).name for broken in catalog.broken] == ["folder.toml", "pipe.toml"]
    assert "no ordinary file" in catalog.broken[1].reason
    assert "good" in catalog.instruments
    for look in (catalog.instrument, catalog.machine, catalog.in_file):
        with pytest.raises(CardError, match="no ordinary file"):
            look(str(pipe))


def test_a_byte_order_mark_is_no_part_of_a_card(folder: Path, tmp_path: Path) -> None:
    path = tmp_path / "marked.toml"
    path.write_text(MINE.format(name="marked", settings=""), "utf-8-sig")
    catalog = load_catalog(REGISTRY)
    assert catalog.in_file(str(path)) == catalog.instrument(str(path))
    assert catalog.in_file(str(path)).name == "marked"


def test_asking_for_the_broken_card_itself_tells_its_reason(folder: Path) -> None:
    put(folder, "mine.toml", "name = ")
    with pytest.raises(CardError, match="not valid TOML"):
        instrument_card("mine", REGISTRY)


def test_a_broken_card_of_ones_own_is_not_passed_over_for_the_built_in_one(folder: Path) -> None:
    """Whoever wrote a text-volts with an accuracy must not be served the one without."""
    put(folder, "text-volts.toml", MINE.format(name="text-volts", settings="max_lin = 9"))
    with pytest.raises(CardError, match="max_lin"):
        instrument_card("text-volts", REGISTRY)
    assert instrument_card("text-speed", REGISTRY).name == "text-speed"


def test_a_fault_that_the_driver_finds_names_the_file_given(tmp_path: Path, folder: Path) -> None:
    path = tmp_path / "elsewhere.toml"
    path.write_text(MINE.format(name="mine", settings="max_lin = 9"))
    with pytest.raises(CardError, match="max_lin") as caught:
        instrument_card(str(path), REGISTRY)
    assert str(path) in str(caught.value)


def test_two_cards_of_one_name_are_told(folder: Path) -> None:
    put(folder, "a.toml", MINE.format(name="mine", settings=""))
    put(folder, "b.toml", MINE.format(name="mine", settings=""))
    (broken,) = load_catalog(REGISTRY).broken
    assert broken.origin.endswith("b.toml")
    assert "another of your cards is called 'mine'" in broken.reason


def test_an_unknown_name_lists_what_there_is_and_where_to_put_ones_own(folder: Path) -> None:
    with pytest.raises(CardError) as caught:
        instrument_card("nonesuch", REGISTRY)
    assert "'nonesuch'" in str(caught.value)
    assert "text-volts" in str(caught.value)
    assert str(folder / "cards") in str(caught.value)
    with pytest.raises(CardError, match="machine card 'nonesuch'.*nursery-sprayer"):
        machine_card("nonesuch")


@pytest.mark.parametrize("name", ["no/such.toml", "no-such.toml"])
def test_a_file_that_is_not_there_is_told(name: str, folder: Path) -> None:
    with pytest.raises(CardError, match="no card file") as caught:
        instrument_card(name, REGISTRY)
    assert name in str(caught.value)


def test_a_folder_in_place_of_a_card_file_is_told(tmp_path: Path, folder: Path) -> None:
    (tmp_path / "x.toml").mkdir()
    with pytest.raises(CardError, match="can't be read"):
        machine_card(str(tmp_path / "x.toml"))


class _Careless(Driver):
    name = "careless"

    def cards(self) -> list[InstrumentCard]:
        raise KeyError("cards")

    def check(self, card: InstrumentCard) -> None:
        return

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        raise DriverError("no")


def test_a_driver_that_can_not_give_its_cards_is_listed_and_harms_no_other(folder: Path) -> None:
    registry = Registry({**REGISTRY.drivers, "careless": _Careless()}, ())
    catalog = load_catalog(registry)
    assert "text-volts" in catalog.instruments
    assert [broken.origin for broken in catalog.broken] == ["driver careless"]


def test_the_configuration_folder_is_the_platforms_unless_told_otherwise(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("SPINVOLT_CONFIG", raising=False)
    assert config_folder().name == "spinvolt"
    monkeypatch.setenv("SPINVOLT_CONFIG", str(tmp_path))
    assert config_folder() == tmp_path
