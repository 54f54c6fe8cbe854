"""The ``modbus`` plugin."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import Clock, Instrument, InstrumentCard
from drivers.builtin_cards import builtin_cards
from drivers.modbus.settings import parse_settings, silent_gap_s
from drivers.transports.serial_driver import SerialDriver

__all__ = ["DRIVER", "ModbusDriver"]


class ModbusDriver(SerialDriver):
    """Modbus RTU on a serial port, Modbus TCP at a ``socket://`` address."""

    name = "modbus"

    def cards(self) -> Sequence[InstrumentCard]:
        return builtin_cards("modbus-meter")

    def check(self, card: InstrumentCard) -> None:
        parse_settings(card)

    def connect(self, card: InstrumentCard, address: str, clock: Clock) -> Instrument:
        from drivers.transports.link import SerialLink
        from drivers.transports.serial_address import check_serial_address

        settings = parse_settings(card)
        check_serial_address(address)
        from drivers.modbus.framing import Framing
        from drivers.modbus.session import ModbusSession
        from drivers.transports.asked import AskedInstrument

        network = address.startswith("socket://")
        tcp = settings.framing == "tcp" or (settings.framing == "auto" and network)
        session = ModbusSession(
            card.channel,
            settings,
            Framing(tcp=tcp, unit=settings.unit),
            0.0 if tcp else silent_gap_s(card.transport.baud),
        )
        link = SerialLink(address, card.transport, clock)
        return AskedInstrument(link, session, len(card.channel), clock)


DRIVER = ModbusDriver()
