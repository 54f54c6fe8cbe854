"""``spinvolt cards``: instrument and machine cards, built in and the user's own."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.catalog import Catalog

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "cards"
HELP = "list the instrument and machine cards, or print one"
DESCRIPTION = (
    "Lists the instrument and machine cards. With a name it prints that card as TOML: write it to a file, "
    "change it, and give the file's path where a card is asked for."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("name", nargs="?", metavar="NAME", help="a card's name, or its .toml file")


def execute(arguments: argparse.Namespace) -> int:
    """List the cards, or print one."""
    from daq.catalog import load_catalog
    from daq.registry import load_registry

    catalog = load_catalog(load_registry())
    if arguments.name is None:
        _print_list(catalog)
    else:
        _print_card(catalog, arguments.name)
    return 0


def _print_list(catalog: Catalog) -> None:
    from daq.catalog import BUILT_IN
    from tui.text import clean

    instruments = [(name, f.card.title, f.origin) for name, f in sorted(catalog.instruments.items())]
    machines = [(name, f.card.title, f.origin) for name, f in sorted(catalog.machines.items())]
    for heading, cards in (
        ("Instrument cards, for -i CARD@ADDRESS:", instruments),
        ("Machine cards, for --machine:", machines),
    ):
        print(heading)
        for name, title, origin in cards:
            mine = "" if origin == BUILT_IN else f"  ({clean(origin)})"
            print(f"  {clean(name):<26}{clean(title)}{mine}")
    for broken in catalog.broken:
        print(f"Left out: {clean(broken.reason, 1000)}", file=sys.stderr)
    for driver in catalog.registry.broken:
        print(f"Driver {clean(driver.name)} can't be loaded: {clean(driver.reason, 1000)}", file=sys.stderr)


def _print_card(catalog: Catalog, name: str) -> None:
    import msgspec

    from daq.errors import CardError
    from tui.tomltext import toml_text

    broken = _broken(catalog, name)
    if broken:
        raise CardError(broken)
    if name in catalog.machines:
        card: object = catalog.machine(name)
    elif name in catalog.instruments:
        card = catalog.instrument(name)
    elif name.endswith(".toml"):
        card = catalog.in_file(name)
    else:
        raise _no_card(catalog, name)
    print(toml_text(msgspec.to_builtins(card)), end="")


def _broken(catalog: Catalog, name: str) -> str:
    """Why the user's own card of that name can't be used; empty where there is no such."""
    from pathlib import Path

    return next((one.reason for one in catalog.broken if Path(one.origin).stem == name), "")


def _no_card(catalog: Catalog, name: str) -> Exception:
    from daq.errors import CardError

    known = ", ".join(sorted([*catalog.instruments, *catalog.machines]))
    return CardError(f"There is no card {name!r}; there are: {known}.")
