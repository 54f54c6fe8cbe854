"""The socket that is served on."""

from __future__ import annotations

import errno
import socket

from daq.errors import SpinvoltError
from tui.serve.address import DEFAULT_PORT, ServeAddress

__all__ = ["listening_socket"]


def listening_socket(address: ServeAddress) -> socket.socket:
    """Listen at an address; where no port was named and the usual one is taken, on any free one.

    Raises:
        SpinvoltError: the address is not of this computer, or the named port is taken.
    """
    try:
        return _listen(address.host, DEFAULT_PORT if address.port is None else address.port)
    except OSError as error:
        if error.errno == errno.EADDRINUSE and address.port is None:
            return _listen(address.host, 0)
        raise SpinvoltError(_sentence(address, error)) from error


def _listen(host: str, port: int) -> socket.socket:
    family, _, _, _, where = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    # All addresses of IPv6 are those of IPv4 too, where the system can do that.
    both = family == socket.AF_INET6 and host == "::" and socket.has_dualstack_ipv6()
    return socket.create_server(where[:2], family=family, dualstack_ipv6=both)


def _sentence(address: ServeAddress, error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return f"Port {address.port} of {address.host} is in use by another program; name another one."
    if error.errno == errno.EADDRNOTAVAIL or isinstance(error, socket.gaierror):
        return (
            f"{address.host} is no address of this computer; --serve takes one that is, or 0.0.0.0 for all."
        )
    if error.errno in {errno.EACCES, errno.EPERM}:
        return f"Port {address.port} may not be served by this user; take one from 1024 up."
    return f"{address.host} can't be served: {error.strerror or error}."
