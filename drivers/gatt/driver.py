"""The ``gatt`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Driver, FoundInstrument, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.gatt.settings import GattSettings, parse_settings
from drivers.gatt.text_lines import check_text

__all__ = ["DRIVER", "GattDriver"]


class GattDriver(Driver):
    """Bluetooth LE characteristics, by notification."""

    name = "gatt"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("ble-speed", "ble-revolutions", "ble-volts")

    def check(self, card: InstrumentCard) -> None:
        _checked(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.gatt.instrument import GattInstrument
        from drivers.gatt.sources import plan_sources
        from drivers.transports.ble import BleLink

        settings = _checked(card)
        link = BleLink(address, clock, silence_s=card.silence_s, adapter=settings.adapter)
        return GattInstrument(card, plan_sources(card, settings), link)

    async def discover(self, seconds: float) -> Sequence[FoundInstrument]:
        from drivers.gatt.reach import found_instrument
        from drivers.transports.ble_nearby import nearby_devices

        return [found_instrument(device) for device in await nearby_devices(seconds)]

    def fits(self, card: InstrumentCard, found: FoundInstrument) -> bool:
        """A service that the card names must be advertised; where it names none, a built-in card must fit."""
        from drivers.gatt.reach import services_advertised

        return services_advertised(_checked(card), found)


def _checked(card: InstrumentCard) -> GattSettings:
    settings = parse_settings(card)
    if settings.text is not None:
        check_text(card, settings.text)
    return settings


DRIVER = GattDriver()
