"""A serial port takes one program's word at a time, so one run can't give it to two instruments. Pure but for links."""

from __future__ import annotations

import os
import re
from collections.abc import Sequence

from daq.errors import UsageError

__all__ = ["refuse_shared_ports"]

_WINDOWS_PORT = re.compile(r"COM\d+", re.IGNORECASE)
_DEVICES = "/dev/"


def refuse_shared_ports(instruments: Sequence[tuple[str, str]]) -> None:
    """Check that no serial port is named for two instruments of one run.

    Args:
        instruments: (card, address) of each. Addresses that are no serial ports
            of this computer may come again: several may type at one keyboard.

    Raises:
        UsageError: naming the port and both cards.
    """
    seen: dict[str, tuple[str, str]] = {}
    for card, address in instruments:
        port = _port(address)
        if port is None:
            continue
        if port in seen:
            other, as_named = seen[port]
            alias = "" if as_named == address else f" (the same port as {as_named})"
            raise UsageError(
                f"Port {address}{alias} is named twice in this run, for {other} and for {card}: "
                "give each instrument a port of its own, or leave one of the two out."
            )
        seen[port] = (card, address)


def _port(address: str) -> str | None:
    """One name for each serial port, whichever link leads to it and wherever that lies; None: it is no port of here."""
    if _WINDOWS_PORT.fullmatch(address):
        return address.upper()
    if "://" in address or not (os.path.isabs(address) or os.path.lexists(address)):
        return None  # elsewhere, or a word such as "keyboard"
    real = os.path.realpath(address)
    return real if real.startswith(_DEVICES) else None
