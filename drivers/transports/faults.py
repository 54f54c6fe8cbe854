"""The border where pyserial's and the system's exceptions become ours.

Nothing else in the drivers may let one of those through. Each becomes a
:class:`TransportError` with a reason and a sentence that ends in what to do.
"""

from __future__ import annotations

import errno
import os
import socket
import sys
from collections.abc import Iterator

from daq.driver_api import TransportError, TransportReason
from drivers.transports.holders import port_holder
from drivers.transports.ports import ports_sentence

__all__ = ["PYSERIAL_EXCEPTIONS", "foreign_exceptions", "in_use", "link_lost", "open_failed"]

PYSERIAL_EXCEPTIONS = frozenset({"SerialException", "SerialTimeoutException", "PortNotOpenError"})
"""Names of pyserial's own exception classes that are translated here; a test compares with what it has."""

_NOT_FOUND = {errno.ENOENT, errno.ENODEV, errno.ENXIO}
_BUSY = {errno.EAGAIN, errno.EWOULDBLOCK, errno.EBUSY}
_NOT_PERMITTED = {errno.EACCES, errno.EPERM, errno.EROFS}
_NOT_A_PORT = {errno.ENOTTY, errno.EINVAL, errno.EISDIR, errno.ENOTDIR, errno.ENAMETOOLONG, errno.ELOOP}
_UNREACHABLE = {
    errno.ECONNREFUSED: "the connection was refused, so no device server listens there",
    errno.ETIMEDOUT: "it did not answer in time",
    errno.EHOSTUNREACH: "no way leads to that computer",
    errno.ENETUNREACH: "no way leads to that network",
    errno.EHOSTDOWN: "that computer is down",
    errno.ECONNRESET: "the connection was broken off",
}


def foreign_exceptions() -> tuple[type[BaseException], ...]:
    """The exception classes that pyserial and the system raise about a port.

    pyserial's own derive from OSError. It lets termios.error pass, which does
    not; raises ValueError for settings and URLs, TypeError for a URL without a
    port number, ImportError for a URL whose helper library is missing, and
    NotImplementedError (a RuntimeError) for what a kind of port can't do.
    """
    common: tuple[type[BaseException], ...] = (
        OSError,
        ValueError,
        TypeError,
        ImportError,
        AttributeError,
        RuntimeError,
    )
    if sys.platform == "win32":
        return common
    import termios

    return (*common, termios.error)


def open_failed(error: BaseException, address: str) -> TransportError:
    """What to tell when a port can't be opened."""
    reason, text = _explain(error, address)
    return TransportError(text, reason=reason, address=address)


def in_use(address: str, holder: str) -> str:
    """What to tell of a port that ``holder`` has; empty where it is not known who."""
    who = holder or "another program, perhaps by a second run"
    return f"Port {address} is in use by {who}: end that one first."


def link_lost(error: BaseException | None, address: str) -> TransportError:
    """What to tell when an open port stops working."""
    detail = f" ({_words(error)})" if error is not None and _words(error) else ""
    return TransportError(
        f"The link to {address} broke{detail}: check the plug, the cable and the instrument's power.",
        reason=TransportReason.LINK_LOST,
        address=address,
    )


def _explain(error: BaseException, address: str) -> tuple[TransportReason, str]:
    chain = list(_chain(error))
    number = next((n for n in map(_errno, chain) if n is not None), None)
    if any(isinstance(link, socket.gaierror) for link in chain):
        return TransportReason.UNREACHABLE, f"The host in {address} is not known: check its name."
    if number in _UNREACHABLE or any(isinstance(link, TimeoutError) for link in chain):
        why = _UNREACHABLE.get(number or errno.ETIMEDOUT, "it did not answer in time")
        return (
            TransportReason.UNREACHABLE,
            f"Can't reach {address}: {why}. Check the host, the port number and the device's power.",
        )
    if "://" not in address:
        found = _explain_device(error, number, address)
        if found is not None:
            return found
    if any(isinstance(link, ImportError) for link in chain):
        return TransportReason.UNAVAILABLE, f"{address} needs a library that is missing: {_words(error)}."
    if any(isinstance(link, ValueError | TypeError) for link in chain):
        return (
            TransportReason.BAD_ADDRESS,
            f"{address} can't be used as a port: {_words(error)}. "
            "Give a device such as /dev/ttyUSB0 or COM3, or a URL such as socket://127.0.0.1:7000.",
        )
    return (
        TransportReason.OTHER,
        f"Port {address} can't be opened: {_words(error)}. Plug it in anew and try again.",
    )


def _explain_device(
    error: BaseException, number: int | None, address: str
) -> tuple[TransportReason, str] | None:
    words = str(error)
    if number in _NOT_FOUND or "FileNotFoundError" in words:
        return TransportReason.NOT_FOUND, f"There is no port {address}. {ports_sentence()}"
    # Windows refuses a port in use with PermissionError, in the text alone.
    if number in _BUSY or "PermissionError" in words:
        return TransportReason.BUSY, in_use(address, port_holder(address))
    if number in _NOT_PERMITTED:
        return TransportReason.NOT_PERMITTED, _not_permitted(address)
    if number in _NOT_A_PORT:
        return TransportReason.BAD_ADDRESS, f"{address} is no serial port. {ports_sentence()}"
    return None


def _not_permitted(address: str) -> str:
    group = _group_of(address)
    if group is None:
        return f"No permission to open {address}: ask whoever looks after this computer for access to it."
    return (
        f"No permission to open {address}: it belongs to the group {group!r}. "
        f"Join it with `sudo usermod -aG {group} $USER`, log in again, and start anew."
    )


def _group_of(address: str) -> str | None:
    if sys.platform == "win32":
        return None
    import grp

    try:
        return grp.getgrgid(os.stat(address).st_gid).gr_name
    except (OSError, KeyError):
        return None


def _chain(error: BaseException) -> Iterator[BaseException]:
    seen: set[int] = set()
    link: BaseException | None = error
    while link is not None and id(link) not in seen:
        seen.add(id(link))
        yield link
        link = link.__cause__ or link.__context__


def _errno(error: BaseException) -> int | None:
    if isinstance(error, OSError):
        return error.errno
    # termios.error carries (errno, text) without being an OSError.
    first = error.args[0] if error.args else None
    return first if type(error).__name__ == "error" and isinstance(first, int) else None


def _words(error: BaseException | None) -> str:
    if error is None:
        return ""
    text = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    match error.args:
        case (int(), str() as said):  # termios has an error of its own, which is no OSError
            text = said
    return " ".join(text.split()).rstrip(".") or type(error).__name__
