"""A capture whose USB adapters are given: ``python -m tests.faults.capture_child FOLDER``.

It is the project's own capture program, whole. Only what pyserial asks the system is answered from the
folder, for pseudo-terminals say nothing of themselves on USB: ``dev/NAME`` is the device, and ``usb/NAME``
holds the serial number of the adapter that has that name now.
"""

from __future__ import annotations

import sys
from pathlib import Path

from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from daq.capture.__main__ import main

__all__ = ["command", "plugged_in"]


def command(folder: Path) -> list[str]:
    """What starts it."""
    return [sys.executable, "-m", "tests.faults.capture_child", str(folder)]


def plugged_in(folder: Path) -> list[ListPortInfo]:
    """The adapters in that folder; one that is pulled meanwhile is not there."""
    ports = []
    for device in sorted((folder / "dev").iterdir()):
        try:
            serial_number = (folder / "usb" / device.name).read_text(encoding="ascii")
        except FileNotFoundError:
            continue
        port = ListPortInfo(str(device))
        port.vid, port.pid, port.serial_number = 0x1209, 1, serial_number  # 1209:0001 is free for tests
        ports.append(port)
    return ports


def answer_from(folder: Path) -> None:
    """Have pyserial find the folder's adapters."""

    def comports(include_links: bool = False) -> list[ListPortInfo]:
        return plugged_in(folder)

    list_ports.comports = comports  # type: ignore[assignment]  # its own kind reads /sys


if __name__ == "__main__":
    answer_from(Path(sys.argv[1]))
    sys.exit(main())
