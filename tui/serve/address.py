"""Where a dashboard is served: ``ADDRESS[:PORT]`` as a person types it."""

from __future__ import annotations

import ipaddress
import re
from dataclasses import dataclass

from daq.errors import UsageError

__all__ = ["DEFAULT_HOST", "DEFAULT_PORT", "ServeAddress", "parse_address"]

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8750
_NAME = re.compile(r"[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?\.?")


@dataclass(frozen=True)
class ServeAddress:
    """An address of this computer and a port.

    Attributes:
        host: an IP address without brackets, or a name, in lower case.
        port: None: the usual one, or any free one where that is taken.
    """

    host: str = DEFAULT_HOST
    port: int | None = None

    @property
    def is_loopback(self) -> bool:
        """Whether only this computer can reach it."""
        number = self._number()
        return self.host == "localhost" if number is None else number.is_loopback

    @property
    def is_every(self) -> bool:
        """Whether it stands for all addresses of this computer."""
        number = self._number()
        return number is not None and number.is_unspecified

    def _number(self) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
        return ip_number(self.host)


def ip_number(host: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """The host as an IP address; None where it is a name."""
    try:
        return ipaddress.ip_address(host)
    except ValueError:
        return None


def parse_address(text: str) -> ServeAddress:
    """Read ``ADDRESS[:PORT]``; an IPv6 address with a port stands in brackets.

    Raises:
        UsageError: it is no such thing.
    """
    host, port = _split(text.strip())
    if ip_number(host) is None and not _NAME.fullmatch(host):
        raise UsageError(
            f"{text!r} is no ADDRESS[:PORT] to serve at, such as 127.0.0.1 or 192.168.1.20:8750."
        )
    return ServeAddress(host.lower().rstrip("."), _port(port, text))


def _split(text: str) -> tuple[str, str]:
    if text.startswith("["):
        host, closed, rest = text[1:].partition("]")
        return (host, rest.removeprefix(":")) if closed and rest[:1] in {"", ":"} else ("?", "")
    if ip_number(text) is not None:
        return text, ""
    host, colon, port = text.rpartition(":")
    return (host, port or "?") if colon else (text, "")


def _port(text: str, whole: str) -> int | None:
    if not text:
        return None
    if text.isascii() and text.isdigit() and 0 < int(text[:6]) <= 65535:
        return int(text)
    raise UsageError(f"{whole!r} names no port from 1 to 65535 to serve at.")
