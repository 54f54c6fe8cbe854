"""The ``keyboard`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from daq.driver_api import Clock, Driver, Instrument, InstrumentCard, UsageError
from drivers.builtin_cards import builtin_cards
from drivers.card_settings import settings_of

__all__ = ["DRIVER", "KeyboardDriver"]


class _NoSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The channels say it all."""


class KeyboardDriver(Driver):
    """Readings typed by hand."""

    name = "keyboard"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("keyboard-pair")

    def check(self, card: InstrumentCard) -> None:
        settings_of(card, _NoSettings)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.keyboard.instrument import KeyboardInstrument

        if address != "keyboard":
            raise UsageError(
                f"Card {card.name} is for readings typed by hand, not for {address!r}: "
                f"write -i {card.name}@keyboard."
            )
        return KeyboardInstrument(card.channel)


DRIVER = KeyboardDriver()
