"""The instruments that were used last, in ``instruments.toml`` of the configuration folder.

A person may change the file by hand. What can't be used in it is told and left
as it is; nothing in it is ever run.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

import msgspec

from daq.cards.instrument import TransportDefaults
from daq.cards.tomltext import TomlError, parse_toml, read_toml_text
from daq.catalog import config_folder
from tui.tomltext import toml_text

__all__ = ["Remembered", "Used", "load_remembered", "remembered_path", "save_remembered"]

_HEAD = "# The instruments that were used last. spinvolt writes this file; it may be changed by hand.\n\n"
_MOST_INSTRUMENTS = 8
_LONGEST = 300


class Used(msgspec.Struct, frozen=True):
    """An instrument that was used."""

    card: str
    """Its card's name or file."""
    address: str
    line: TransportDefaults | None = None
    """How the line is set, where that differs from the card."""


class Remembered(msgspec.Struct, frozen=True):
    """What was used last."""

    instrument: tuple[Used, ...] = ()
    machine: str = ""
    """The machine card's name or file; "" where there was none."""


def remembered_path() -> Path:
    """Where it is kept."""
    return config_folder() / "instruments.toml"


def load_remembered(path: Path) -> tuple[Remembered, str]:
    """What was used last, and a sentence where the file holds something that can't be used."""
    try:
        return _checked(msgspec.convert(parse_toml(read_toml_text(path)), Remembered)), ""
    except FileNotFoundError:
        return Remembered(), ""
    except OSError as error:
        return Remembered(), f"{path} can't be read: {error.strerror or error}."
    except TomlError as error:
        why = f"it {error}"
    except (ValueError, msgspec.ValidationError) as error:
        why = str(error)
    return Remembered(), f"{path} can't be used: {why}; mend it, or choose the instruments anew."


def _checked(found: Remembered) -> Remembered:
    if len(found.instrument) > _MOST_INSTRUMENTS:
        raise ValueError(f"it holds more than {_MOST_INSTRUMENTS} instruments")
    for text in (found.machine, *(part for each in found.instrument for part in (each.card, each.address))):
        if len(text) > _LONGEST or not (text.isprintable()):
            raise ValueError(f"{text[:40]!r} is no name or address")
    if any(not (each.card and each.address) for each in found.instrument):
        raise ValueError("an instrument needs a card and an address")
    return found


def save_remembered(path: Path, choice: Remembered) -> str:
    """Keep what was used; gives a sentence where that can't be done. The old file stays whole until the new one is.

    A choice that could not be read again is not kept.
    """
    try:
        _checked(choice)
    except ValueError as error:
        return f"The instruments are not remembered: {error}."
    table = msgspec.to_builtins(choice)
    table["instrument"] = [{k: v for k, v in each.items() if v is not None} for each in table["instrument"]]
    new = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        new.write_text(_HEAD + toml_text(dict(sorted(table.items(), reverse=True))), "utf-8")
        new.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            new.unlink()
        return f"The instruments are not remembered: {path} can't be written: {error.strerror or error}."
    return ""
