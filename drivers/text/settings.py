"""What a text card may say in ``[settings]``."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.driver_api import CardError, InstrumentCard

__all__ = ["TextSettings", "parse_settings"]


class TextSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a line is read."""

    pattern: Literal["first-number"] = "first-number"
    """"first-number": the first number in the line that does not belong to a name such as CH1."""
    decimal_comma: bool = False
    """19,62 means 19.62. Otherwise such a number is refused, for it could be two."""
    require_unit: bool = False
    """A line without a unit word is a bad one."""
    overload_words: tuple[str, ...] = ()
    """Further words that mean beyond the range, besides OL, OVER, OVERLOAD and their like."""
    max_line: int = 256
    """Longest line, in bytes."""

    def __post_init__(self) -> None:
        if not 8 <= self.max_line <= 4096:
            raise ValueError(f"max_line = {self.max_line} must be from 8 to 4096 bytes")
        for word in self.overload_words:
            if not 1 <= len(word) <= 32:
                raise ValueError(f"overload_words: {word!r} must have 1 to 32 characters")


def parse_settings(card: InstrumentCard) -> TextSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    try:
        settings = msgspec.convert(card.settings, TextSettings)
    except msgspec.ValidationError as error:
        accepted = ", ".join(TextSettings.__struct_fields__)
        raise CardError(
            f"Instrument card {card.name}, [settings]: {error}. Accepted keys: {accepted}."
        ) from error
    if len(card.channel) != 1:
        raise CardError(
            f'Instrument card {card.name}: pattern "first-number" gives one number a line, '
            f"so it takes one [[channel]], not {len(card.channel)}."
        )
    return settings
