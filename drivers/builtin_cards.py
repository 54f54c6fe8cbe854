"""Reads the cards that are installed with the drivers."""

from __future__ import annotations

from importlib.resources import files

from daq.driver_api import InstrumentCard, parse_instrument_card

__all__ = ["builtin_cards"]


def builtin_cards(*names: str) -> tuple[InstrumentCard, ...]:
    """The built-in cards of these names.

    Raises:
        CardError: one is malformed, which a test rules out.
    """
    folder = files("drivers") / "cards"
    return tuple(
        parse_instrument_card((folder / f"{name}.toml").read_text("utf-8"), origin=f"{name}.toml")
        for name in names
    )
