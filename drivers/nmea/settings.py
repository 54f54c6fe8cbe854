"""What an NMEA card may say in ``[settings]``: which sentence carries which channel."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.driver_api import InstrumentCard, Quantity
from drivers.card_settings import card_fault, one_value_a_channel, settings_of

__all__ = ["TRANSDUCERS", "NmeaSettings", "NmeaValue", "parse_settings"]

TRANSDUCERS: dict[str, tuple[str, frozenset[Quantity]]] = {
    "T": ("R", frozenset({Quantity.ROTATIONAL_SPEED})),
    "U": ("V", frozenset({Quantity.AC_VOLTAGE, Quantity.DC_VOLTAGE})),
    "I": ("A", frozenset({Quantity.DC_CURRENT})),
    "F": ("H", frozenset({Quantity.FREQUENCY})),
    "C": ("C", frozenset({Quantity.TEMPERATURE})),
    "G": ("", frozenset(Quantity)),
}
"""XDR transducer types: the unit letter that goes with each, and what they may be read as.

T, F and C: NMEA 0183; U: as parsers read it; I, F and G: NMEA's update sheet on XDR (2019). G is a
generic transducer without a unit; the card's scale says what it means.
"""


class NmeaValue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where one channel is found."""

    sentence: Literal["RPM", "XDR"]
    talker: str | None = None
    """Two letters before the sentence's name; None: any."""
    source: Literal["E", "S"] = "E"
    """RPM: E an engine, S a shaft."""
    number: int | None = None
    """RPM: which engine or shaft, as the sender counts them; None: the first one seen."""
    signed: bool = False
    """RPM: keep the sign, which is minus for counter-clockwise; else the speed alone is taken."""
    type: Literal["T", "U", "I", "F", "C", "G"] | None = None
    """XDR: the transducer's type; must be given there."""
    transducer: str | None = None
    """XDR: the transducer's name; None: the first one of that type."""

    def __post_init__(self) -> None:
        if self.sentence == "XDR" and self.type is None:
            raise ValueError('type must be given for XDR: "T", "U", "I", "F", "C" or "G"')
        if self.sentence == "RPM" and (self.type or self.transducer):
            raise ValueError("type and transducer belong to XDR; RPM has source and number")
        if self.talker is not None and not (len(self.talker) == 2 and self.talker.isalnum()):
            raise ValueError(f'talker = {self.talker!r} must be two letters such as "II" or "ER"')


class NmeaSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All of it."""

    value: tuple[NmeaValue, ...]
    max_sentence: int = 256
    """Longest sentence, in bytes; the standard says 82, but senders with many transducers go beyond."""

    def __post_init__(self) -> None:
        if not 82 <= self.max_sentence <= 4096:
            raise ValueError(f"max_sentence = {self.max_sentence} must be from 82 to 4096 bytes")


def parse_settings(card: InstrumentCard) -> NmeaSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, NmeaSettings)
    one_value_a_channel(card, settings.value)
    for number, (value, channel) in enumerate(zip(settings.value, card.channel, strict=True), start=1):
        if value.type is None:
            accepted = frozenset({Quantity.ROTATIONAL_SPEED})
        else:
            accepted = TRANSDUCERS[value.type][1]
        if channel.quantity not in accepted:
            names = ", ".join(sorted(quantity.value for quantity in accepted))
            carrier = value.sentence if value.type is None else f"XDR type {value.type}"
            raise card_fault(
                card,
                f"channel {number} has quantity {channel.quantity.value}, but {carrier} carries {names}",
            )
    return settings
