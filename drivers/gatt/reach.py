"""What a device that was heard could be, as far as the services tell that it advertises."""

from __future__ import annotations

from daq.driver_api import FoundInstrument
from drivers.gatt.settings import GattSettings
from drivers.gatt.uuids import (
    CSC_SERVICE,
    INDUSTRIAL_MEASUREMENT_SERVICE,
    full_uuid,
    named_uuid,
    short_uuid,
)
from drivers.transports.ble_nearby import Nearby

__all__ = ["found_instrument", "services_advertised"]


def found_instrument(device: Nearby) -> FoundInstrument:
    """Put a device into the words of ``spinvolt ports``."""
    return FoundInstrument(
        address=f"ble:{device.address}",
        name=device.name,
        details=tuple(named_uuid(uuid) for uuid in device.services),
        signal_dbm=device.signal_dbm,
        cards=_cards(device.services),
    )


def services_advertised(settings: GattSettings, found: FoundInstrument) -> bool:
    """Whether a device could carry what a card asks for, as far as it advertises."""
    services = [value.service for value in settings.value]
    services += [] if settings.text is None else [settings.text.service]
    named = [service for service in services if service is not None]
    if not named:
        return bool(found.cards)
    return all(named_uuid(full_uuid(service)) in found.details for service in named)


def _cards(services: tuple[str, ...]) -> tuple[str, ...]:
    """Counters have a service of their own; Rotational Speed and Voltage may be in any, so a maker's own will do."""
    short = {short_uuid(uuid) for uuid in services}
    cards = ["ble-revolutions"] if CSC_SERVICE in short else []
    if INDUSTRIAL_MEASUREMENT_SERVICE in short or None in short:
        cards += ["ble-speed", "ble-volts"]
    return tuple(cards)
