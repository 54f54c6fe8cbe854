"""Finds cards by name or by file: built in, and the user's own, which come first.

The user's lie in ``cards/*.toml`` of the platform's configuration folder
(environment variable ``SPINVOLT_CONFIG`` names another folder). A broken one
is listed with its reason and never fatal, unless it is the very card asked for.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Generic, TypeVar

import msgspec

from daq.cards.instrument import InstrumentCard, parse_instrument_card
from daq.cards.machine import MachineCard, parse_machine_card
from daq.cards.tomltext import TomlError, parse_toml, read_toml_text
from daq.errors import CardError, DriverError, SpinvoltError
from daq.registry import Registry

__all__ = [
    "BUILT_IN",
    "BrokenCard",
    "Catalog",
    "Found",
    "config_folder",
    "instrument_card",
    "load_catalog",
    "machine_card",
]

BUILT_IN = "built in"
CardT = TypeVar("CardT", InstrumentCard, MachineCard)


class Found(msgspec.Struct, Generic[CardT], frozen=True):
    """A card and where it comes from."""

    card: CardT
    origin: str
    """"built in" or the file's path."""


class BrokenCard(msgspec.Struct, frozen=True):
    """A card that can't be used."""

    origin: str
    reason: str


class Catalog(msgspec.Struct, frozen=True):
    """All cards that can be asked for by name."""

    instruments: dict[str, Found[InstrumentCard]]
    machines: dict[str, Found[MachineCard]]
    broken: tuple[BrokenCard, ...]
    registry: Registry

    def instrument(self, name_or_path: str) -> InstrumentCard:
        """The instrument card of that name, or in that file.

        Raises:
            CardError: there is none, or it is broken; says what there is.
            DriverError: no driver speaks its protocol.
        """
        if not _is_path(name_or_path):
            return self._named(name_or_path, self.instruments, "instrument")
        card = parse_instrument_card(_read(Path(name_or_path)), origin=name_or_path)
        _check(card, name_or_path, self.registry)
        return card

    def machine(self, name_or_path: str) -> MachineCard:
        """The machine card of that name, or in that file.

        Raises:
            CardError: there is none, or it is broken; says what there is.
        """
        if not _is_path(name_or_path):
            return self._named(name_or_path, self.machines, "machine")
        return parse_machine_card(_read(Path(name_or_path)), origin=name_or_path)

    def in_file(self, path: str) -> InstrumentCard | MachineCard:
        """The card in a file: a machine's has a rated speed, an instrument's a protocol.

        Raises:
            CardError: it can't be read, or is broken.
            DriverError: no driver speaks its protocol.
        """
        keys = _keys(_read(Path(path)), path)
        return self.instrument(path) if keys & {"protocol", "channel"} else self.machine(path)

    def _named(self, name: str, cards: dict[str, Found[CardT]], kind: str) -> CardT:
        # A broken card of the user's own comes before a built-in one of that name: it says more of the instrument.
        for broken in self.broken:
            if Path(broken.origin).stem == name:
                raise CardError(broken.reason)
        found = cards.get(name)
        if found is not None:
            return found.card
        known = ", ".join(sorted(cards)) or "none"
        raise CardError(
            f"There is no {kind} card {name!r}. There are: {known}. A card of your own goes into "
            f"{config_folder() / 'cards'}, or give the path of its .toml file."
        )


def config_folder() -> Path:
    """Where the user's own cards and settings lie."""
    given = os.environ.get("SPINVOLT_CONFIG")
    if given:
        return Path(given)
    from platformdirs import user_config_path

    return user_config_path("spinvolt", appauthor=False)


def instrument_card(name_or_path: str, registry: Registry) -> InstrumentCard:
    """The instrument card of that name, or in that file; errors as :meth:`Catalog.instrument`."""
    return load_catalog(registry).instrument(name_or_path)


def machine_card(name_or_path: str) -> MachineCard:
    """The machine card of that name, or in that file; errors as :meth:`Catalog.machine`."""
    return load_catalog(Registry({}, ())).machine(name_or_path)


def load_catalog(registry: Registry, folder: Path | None = None) -> Catalog:
    """Read all cards there are.

    Args:
        registry: the drivers; they bring the built-in instrument cards.
        folder: configuration folder; None: the platform's.
    """
    instruments: dict[str, Found[InstrumentCard]] = {}
    machines: dict[str, Found[MachineCard]] = {}
    broken: list[BrokenCard] = []
    _take_built_in(registry, instruments, machines, broken)
    mine: set[str] = set()
    for path in _card_files((folder or config_folder()) / "cards"):
        try:
            card = _user_card(path, registry)
            if card.name in mine:
                raise CardError(f"Card {path}: another of your cards is called {card.name!r} too.")
        except SpinvoltError as error:
            broken.append(BrokenCard(str(path), str(error)))
            continue
        mine.add(card.name)
        if isinstance(card, InstrumentCard):
            instruments[card.name] = Found(card, str(path))
        else:
            machines[card.name] = Found(card, str(path))
    return Catalog(instruments, machines, tuple(broken), registry)


def _take_built_in(
    registry: Registry,
    instruments: dict[str, Found[InstrumentCard]],
    machines: dict[str, Found[MachineCard]],
    broken: list[BrokenCard],
) -> None:
    for name, driver in sorted(registry.drivers.items()):
        try:
            for card in driver.cards():
                instruments.setdefault(card.name, Found(card, BUILT_IN))
        except Exception as error:  # noqa: BLE001 - a named border: a driver from elsewhere may fail in any way
            broken.append(
                BrokenCard(f"driver {name}", f"The cards of driver {name!r} can't be read: {error}")
            )
    for file in sorted((files("daq") / "cards" / "machines").iterdir(), key=lambda f: f.name):
        if file.name.endswith(".toml"):
            machine = parse_machine_card(file.read_text("utf-8"), origin=file.name)
            machines[machine.name] = Found(machine, BUILT_IN)


def _card_files(folder: Path) -> Iterator[Path]:
    try:
        yield from sorted(path for path in folder.iterdir() if path.suffix == ".toml")
    except OSError:
        # No folder, or none that may be read: then there are no cards of the user's own.
        return


def _user_card(path: Path, registry: Registry) -> InstrumentCard | MachineCard:
    text = _read(path)
    keys = _keys(text, str(path))
    if "rated_speed_rpm" in keys and "protocol" not in keys:
        return parse_machine_card(text, origin=str(path))
    if not keys & {"protocol", "channel"}:
        raise CardError(
            f"Card {path} is neither an instrument card (it has no protocol) "
            "nor a machine card (it has no rated_speed_rpm)."
        )
    card = parse_instrument_card(text, origin=str(path))
    _check(card, str(path), registry)
    return card


def _keys(text: str, origin: str) -> set[str]:
    try:
        return set(parse_toml(text))
    except TomlError as error:
        raise CardError(f"Card {origin} {error}.") from error


def _check(card: InstrumentCard, origin: str, registry: Registry) -> None:
    """Let the driver of its protocol check a card; what it finds is told with the file it stands in."""
    try:
        registry.driver(card.protocol).check(card)
    except CardError as error:
        named = f"Instrument card {card.name}"
        text = str(error)
        raise CardError(
            f"Instrument card {origin}{text.removeprefix(named)}"
            if text.startswith(named)
            else f"{origin}: {text}"
        ) from error
    except DriverError as error:
        raise DriverError(f"Instrument card {origin}: {error}") from error


def _is_path(name: str) -> bool:
    return name.endswith(".toml") or "/" in name or os.sep in name


def _read(path: Path) -> str:
    try:
        return read_toml_text(path)
    except FileNotFoundError as error:
        raise CardError(f"There is no card file {path}.") from error
    except TomlError as error:
        raise CardError(f"Card file {path} {error}: that is no card.") from error
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise CardError(f"Card file {path} can't be read: {why}.") from error
