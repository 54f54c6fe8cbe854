"""The link to the dashboard, as text and as a picture for a phone's camera."""

from __future__ import annotations

import socket

from tui.serve.address import ServeAddress, ip_number

__all__ = ["link_text", "picture", "reachable_host"]

_NOWHERE = ("192.0.2.1", 9)
"""An address kept for examples (RFC 5737): connecting a datagram socket to it sends nothing."""


def reachable_host(address: ServeAddress) -> str:
    """The host for the link: where all addresses are served, the one that leads out of this computer."""
    if not address.is_every:
        return address.host
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
            host: str = probe.getsockname()[0]
        except OSError:  # no network with a way out: the computer's own name is the best guess
            return socket.gethostname().lower()
    return host


def link_text(host: str, port: int, key: str | None) -> str:
    """Such as ``http://192.168.1.20:8750/#k7qm-4xwn-p2cd``.

    The key stands behind ``#``, which no browser sends anywhere: it gets into no
    log and no other site's hands.
    """
    number = ip_number(host)
    name = f"[{host}]" if number is not None and number.version == 6 else host
    return f"http://{name}:{port}/{f'#{key}' if key else ''}"


def picture(link: str) -> list[str]:
    """The link as a QR code (ISO/IEC 18004), two of its rows in one row of half blocks."""
    import segno

    code = segno.make(link, error="l", micro=False)
    rows = [list(row) for row in code.matrix_iter(border=4)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    pairs = {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}
    return [
        "".join(pairs[bool(top), bool(bottom)] for top, bottom in zip(*rows[at : at + 2], strict=True))
        for at in range(0, len(rows), 2)
    ]
