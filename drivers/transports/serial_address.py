"""What may be the address of a serial port or of a line over the network; judged before anything is opened."""

from __future__ import annotations

from urllib.parse import urlsplit

from daq.driver_api import UsageError

__all__ = ["check_serial_address"]

_NETWORK = {"socket", "rfc2217"}
_LOCAL = {"loop", "spy", "alt", "hwgrep", "cp2110"}
"""The other kinds that pyserial knows; what follows them is its business."""
_GOOD = "give a device such as /dev/ttyUSB0 or COM3, or a URL such as socket://127.0.0.1:7000"


def check_serial_address(address: str) -> None:
    """Refuse addresses that are no serial port or URL.

    Raises:
        UsageError: it is empty, a BLE address, the keyboard, or a URL that can't be one.
    """
    if not address or address == "keyboard" or address.startswith("ble:"):
        raise UsageError(
            f"This card's instrument hangs on a serial port or a network address, not on {address!r}: {_GOOD}."
        )
    kind, mark, _ = address.partition("://")
    if not mark:
        return
    if kind in _NETWORK:
        _check_host_and_port(address, kind)
    elif kind not in _LOCAL:
        raise UsageError(f"{kind}:// in {address!r} is no kind of address that is known here: {_GOOD}.")


def _check_host_and_port(address: str, kind: str) -> None:
    try:
        parts = urlsplit(address)
        host, port = parts.hostname, parts.port
    except ValueError:  # a port that is no number, or above 65535
        host, port = None, None
    if not host or not port:
        raise UsageError(
            f"{address!r} names no host with a port number from 1 to 65535: write {kind}://HOST:PORT, "
            f"such as {kind}://127.0.0.1:7000."
        )
