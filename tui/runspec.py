"""From what a person typed to what a capture needs to know."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import UsageError

if TYPE_CHECKING:
    from daq.capture.spec import CaptureSpec

__all__ = ["make_spec", "split_instrument"]


def split_instrument(text: str) -> tuple[str, str]:
    """Split ``CARD@ADDRESS``.

    Raises:
        UsageError: a part is missing.
    """
    card, at, address = text.partition("@")
    if not (card and at and address):
        raise UsageError(
            f"{text!r} names no instrument: it must be CARD@ADDRESS, such as scpi-meter@/dev/ttyUSB0; "
            "`spinvolt cards` lists the cards."
        )
    return card, address


def make_spec(
    path: Path,
    instruments: Sequence[tuple[str, str]],
    *,
    machine: str | None,
    seconds: float | None,
    force: bool,
    source: str,
    numbered: bool = False,
) -> CaptureSpec:
    """Look the cards up and put the capture's spec together.

    Args:
        path: where the recording goes.
        instruments: (card, address) of each; a card by its name or its file.
        machine: machine card by its name or its file, or None.
        seconds: length of the run, or None.
        force: replace a file that is there.
        source: "run" or "demo".
        numbered: nobody chose the name: where it is taken the next free one is.

    Raises:
        CardError: a card is missing or malformed.
        DriverError: no driver speaks a card's protocol.
    """
    import msgspec

    from daq.capture.spec import CaptureSpec, InstrumentSpec
    from daq.catalog import load_catalog
    from daq.registry import load_registry

    catalog = load_catalog(load_registry())
    cards = [(catalog.instrument(card), address) for card, address in instruments]
    chosen = None if machine is None else catalog.machine(machine)
    return CaptureSpec(
        path=str(path),
        instruments=[InstrumentSpec(card=msgspec.to_builtins(card), address=a) for card, a in cards],
        force=force,
        numbered=numbered,
        source=source,
        machine=None if chosen is None else msgspec.to_builtins(chosen),
        seconds=seconds,
    )
