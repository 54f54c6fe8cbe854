"""What serial ports this computer has, in words."""

from __future__ import annotations

__all__ = ["ports_sentence", "serial_ports"]


def serial_ports() -> list[str]:
    """Device names of the serial ports that are present."""
    from serial.tools import list_ports

    try:
        return sorted(port.device for port in list_ports.comports())
    except OSError:
        return []


def ports_sentence() -> str:
    """One sentence that lists the ports, or says that there are none."""
    names = serial_ports()
    if not names:
        return "This computer has no serial port at the moment: plug in the adapter and look again."
    return f"Ports that exist: {', '.join(names)}."
