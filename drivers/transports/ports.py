"""What serial ports this computer has, for a list and in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from daq.driver_api import FoundInstrument
from drivers.transports.holders import open_files, port_holder

if TYPE_CHECKING:
    from serial.tools.list_ports_common import ListPortInfo

__all__ = ["found_ports", "port_as_found", "ports_sentence", "present_ports", "serial_ports"]

_NO_NAME = "n/a"


def serial_ports() -> list[str]:
    """Device names of the serial ports that are present."""
    return [port.device for port in present_ports()]


def ports_sentence() -> str:
    """One sentence that lists the ports, or says that there are none."""
    names = serial_ports()
    if not names:
        return "This computer has no serial port at the moment: plug in the adapter and look again."
    return f"Ports that exist: {', '.join(names)}."


def found_ports(cards: Sequence[str]) -> list[FoundInstrument]:
    """The serial ports, those on USB first, each with the cards that could fit. None is opened."""
    on_usb_first = sorted(present_ports(), key=lambda port: port.vid is None)
    opened = open_files()
    return [port_as_found(port, cards, opened) for port in on_usb_first]


def port_as_found(
    port: ListPortInfo, cards: Sequence[str], opened: Mapping[str, int] | None = None
) -> FoundInstrument:
    """Put a port into the words of ``spinvolt ports``: its names on USB, and who has it."""
    name = port.product or ("" if port.description in (None, _NO_NAME, port.name) else port.description)
    details = [] if port.vid is None else [f"USB {port.vid:04X}:{port.pid or 0:04X}"]
    details += [f"by {port.manufacturer}"] if port.manufacturer else []
    details += [f"serial number {port.serial_number}"] if port.serial_number else []
    details += [f"interface {port.interface}"] if port.interface else []
    return FoundInstrument(
        address=port.device,
        name=name or "",
        details=tuple(details),
        cards=tuple(cards),
        in_use_by=port_holder(port.device, opened),
    )


def present_ports() -> list[ListPortInfo]:
    """The serial ports that are present, by name, with what they say of themselves on USB."""
    from serial.tools import list_ports

    try:
        return sorted(list_ports.comports(), key=lambda port: str(port.device))
    except OSError:
        return []
