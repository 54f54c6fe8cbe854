"""From the instruments that were chosen on the screen to cards, and to what a capture needs to know."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from daq.errors import SpinvoltError
from tui.remembered import load_remembered, remembered_path

if TYPE_CHECKING:
    from daq.capture.spec import CaptureSpec
    from daq.cards.instrument import InstrumentCard
    from tui.remembered import Used
    from tui.session import RunEnd

__all__ = ["RunOptions", "cards_of", "chosen_spec", "last_used", "machine_titles", "machine_trouble"]


@dataclass(frozen=True)
class RunOptions:
    """How a run is recorded that is started on the screen."""

    machine: str = ""
    """The machine card's name or file; "" takes the one of last time."""
    out: Path | None = None
    """Where the first recording goes; None: into the recordings folder, as all others."""
    seconds: float | None = None
    force: bool = False
    """Replace a file that is there."""
    ended: Callable[[RunEnd], None] = lambda _: None
    """Told how each run ended."""


def cards_of(chosen: Sequence[Used]) -> list[tuple[InstrumentCard, str]]:
    """The card of each, its line set as it was heard, and its address.

    Raises:
        CardError: a card is missing or malformed.
        DriverError: no driver speaks its protocol.
    """
    from daq.catalog import load_catalog
    from daq.registry import load_registry

    catalog = load_catalog(load_registry())
    found = []
    for each in chosen:
        card = catalog.instrument(each.card)
        if each.line is not None:
            card = msgspec.structs.replace(card, transport=each.line)
        found.append((card, each.address))
    return found


def last_used() -> list[tuple[InstrumentCard, str]]:
    """The instruments that were used last, without the keyboard; none where they can't be used any more."""
    last, _ = load_remembered(remembered_path())
    try:
        return cards_of([each for each in last.instrument if each.address != "keyboard"])
    except SpinvoltError:
        return []


def chosen_spec(
    path: Path,
    chosen: Sequence[Used],
    *,
    machine: str,
    seconds: float | None,
    force: bool,
    numbered: bool = False,
) -> CaptureSpec:
    """What the capture is told.

    Raises:
        CardError: a card is missing or malformed.
        DriverError: no driver speaks a card's protocol.
    """
    from tui.runspec import make_spec

    spec = make_spec(
        path,
        [(each.card, each.address) for each in chosen],
        machine=machine or None,
        seconds=seconds,
        force=force,
        numbered=numbered,
        source="run",
    )
    instruments = [
        msgspec.structs.replace(told, card=msgspec.to_builtins(card))
        for told, (card, _) in zip(spec.instruments, cards_of(chosen), strict=True)
    ]
    return msgspec.structs.replace(spec, instruments=instruments)


def machine_titles() -> dict[str, str]:
    """The title of each machine card, by its name."""
    from daq.catalog import load_catalog
    from daq.registry import load_registry

    return {name: found.card.title for name, found in load_catalog(load_registry()).machines.items()}


def machine_trouble(name: str) -> str:
    """Why a machine card can't be used, or ""."""
    from daq.catalog import machine_card

    try:
        machine_card(name)
    except SpinvoltError as error:
        return str(error)
    return ""
