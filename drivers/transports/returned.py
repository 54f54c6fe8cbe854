"""An adapter that comes back under another name: found again by what it says of itself on USB.

The system gives the next free name to whatever is plugged in, so an adapter that was
pulled may come back as /dev/ttyUSB1 while its old name is gone, or is another adapter's.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from daq.driver_api import TransportError, TransportReason
from drivers.transports.ports import present_ports

if TYPE_CHECKING:
    from serial.tools.list_ports_common import ListPortInfo

__all__ = ["Adapters"]


class _Adapter(NamedTuple):
    """What tells one adapter from another; ports that are on no USB have none."""

    vendor: int
    product: int | None
    serial_number: str | None
    interface: str | None


class Adapters:
    """Remembers which adapter was open under which address.

    Args:
        ports: the ports that are present.
    """

    def __init__(self, ports: Callable[[], Sequence[ListPortInfo]] = present_ports) -> None:
        self._ports = ports
        self._opened: dict[str, _Adapter] = {}

    def opened(self, address: str, device: str) -> None:
        """The port of that device was opened for an address; a second adapter just like it can't be told from it.

        Raises:
            TransportError: ``NOT_FOUND``: another adapter was plugged in there just before it was opened.
        """
        adapters = self._present()
        adapter = adapters.get(os.path.realpath(device))
        wanted = self._opened.get(address)
        if adapter is not None and wanted is not None and adapter != wanted:
            raise _another(device, address)
        if adapter is not None and list(adapters.values()).count(adapter) == 1:
            self._opened[address] = adapter

    def device(self, address: str) -> str:
        """The device to open for an address: the one of that name, or where its adapter is now.

        Raises:
            TransportError: ``NOT_FOUND``: the name is another adapter's now, and its own is not plugged in.
        """
        wanted = self._opened.get(address)
        if wanted is None:
            return address
        adapters = self._present()
        here = os.path.realpath(address)
        if adapters.get(here) == wanted:
            return address
        places = [device for device, adapter in adapters.items() if adapter == wanted]
        if len(places) == 1:
            return places[0]
        if here in adapters:
            raise _another(address, address)
        return address

    def _present(self) -> dict[str, _Adapter | None]:
        return {os.path.realpath(port.device): _adapter(port) for port in self._ports()}


def _another(device: str, address: str) -> TransportError:
    return TransportError(
        f"{device} is another adapter now, and the one that was there is not plugged in: plug it in again.",
        reason=TransportReason.NOT_FOUND,
        address=address,
    )


def _adapter(port: ListPortInfo) -> _Adapter | None:
    if port.vid is None:
        return None
    return _Adapter(port.vid, port.pid, port.serial_number, port.interface)
