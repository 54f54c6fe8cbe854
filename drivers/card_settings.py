"""Turns a card's ``[settings]`` table into a driver's own structure, with errors that name the key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import msgspec

from daq.driver_api import CardError, InstrumentCard, card_fault_words

__all__ = ["card_fault", "one_value_a_channel", "settings_of"]

SettingsT = TypeVar("SettingsT", bound=msgspec.Struct)


def settings_of(card: InstrumentCard, kind: type[SettingsT]) -> SettingsT:
    """The card's settings as ``kind``.

    Raises:
        CardError: naming the card, the key and what would be accepted.
    """
    try:
        return msgspec.convert(card.settings, kind)
    except msgspec.ValidationError as error:
        words = card_fault_words(error, kind)
        raise CardError(f"Instrument card {card.name}, [settings]: {words}.") from error


def one_value_a_channel(card: InstrumentCard, values: Sequence[object]) -> None:
    """Check that ``[[settings.value]]`` has one table for each ``[[channel]]``.

    Raises:
        CardError: with both counts.
    """
    if len(values) != len(card.channel):
        raise card_fault(
            card,
            f"there must be one [[settings.value]] for each [[channel]], in the same order; "
            f"there are {len(values)} and {len(card.channel)}",
        )


def card_fault(card: InstrumentCard, what: str) -> CardError:
    """A sentence about what is wrong with a card."""
    return CardError(f"Instrument card {card.name}: {what}.")
