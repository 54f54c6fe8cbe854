"""Who may see the page: pure rules, with no network in them.

Two things are guarded against. A web site that the person happens to have open
must not reach a dashboard on this computer, be it straight or by a name of its
own that it lets point here: so the host that a browser names must be one that
is served, and the page that a request comes from must be ours (RFC 6454,
section 7; RFC 6455, section 10.2). And on a named address nobody else on the
network may look on: so a key is asked for there, which is exchanged for a
secret that the browser keeps. The key is used up by the first screen that is
opened with such a secret, and not before: who fetches a link only to see what
is behind it must not lock out the person it was meant for.
"""

from __future__ import annotations

import hmac
import secrets
from collections import deque
from collections.abc import Callable, Iterable

from tui.serve.address import ip_number

__all__ = ["KEY_CHARACTERS", "KEY_LENGTH", "Guard", "new_key"]

KEY_CHARACTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Without those that look alike: a key may have to be typed on a phone."""
KEY_LENGTH = 12
"""31 characters to the twelfth are 59 bits: at 10,000 tries a second a million years."""
_GROUP = 4
_LONGEST = 100
_MOST_WAITING = 16


def new_key() -> str:
    """A key in groups, such as ``k7qm-4xwn-p2cd``, from the operating system's random numbers."""
    drawn = "".join(secrets.choice(KEY_CHARACTERS) for _ in range(KEY_LENGTH))
    return "-".join(drawn[at : at + _GROUP] for at in range(0, KEY_LENGTH, _GROUP))


class Guard:
    """Decides over requests.

    Attributes:
        key: the key that works next; None where none is asked for.
    """

    def __init__(
        self,
        port: int,
        hosts: Iterable[str],
        *,
        any_ip: bool = False,
        keyed: bool = False,
        make_key: Callable[[], str] = new_key,
    ) -> None:
        """Guard one port.

        Args:
            port: the port that is served.
            hosts: names and IP addresses (without brackets) by which it may be called.
            any_ip: any IP address will do besides. No foreign site can have a number for its name.
            keyed: ask for a key.
            make_key: draws one.
        """
        self._port = port
        self._hosts = frozenset(host.lower() for host in hosts)
        self._any_ip = any_ip
        self._make_key = make_key
        self.key = make_key() if keyed else None
        self._tokens: list[str] = []
        self._waiting: deque[str] = deque(maxlen=_MOST_WAITING)

    def serves(self, host_header: str) -> bool:
        """Whether a request's ``Host`` is one of ours."""
        host, port = _split_host(host_header[:_LONGEST].lower())
        if port != self._port:
            return False
        return host in self._hosts or (self._any_ip and ip_number(host) is not None)

    def ours(self, origin_header: str | None, host_header: str) -> bool:
        """Whether a request comes from a page of ours; one that does not say so does not."""
        return self.serves(host_header) and origin_header == f"http://{host_header}"

    def enter(self, key: str) -> str | None:
        """Exchange the key for a token for the browser to keep; None where it is not the key."""
        if self.key is None or not _same(_bare(key), _bare(self.key)):
            return None
        token = secrets.token_urlsafe(32)
        self._waiting.append(token)
        return token

    def knows(self, token: str | None) -> bool:
        """Whether a browser may ask for a screen."""
        return self.key is None or _among(token, [*self._tokens, *self._waiting])

    def admits(self, token: str | None) -> bool:
        """Whether a browser may open a screen, now.

        The first to do so uses the key up: :attr:`key` is another one then, and
        whoever else had exchanged the old one is not known any more.
        """
        if self.key is None or _among(token, self._tokens):
            return True
        if token is None or not _among(token, self._waiting):
            return False
        self.key = self._make_key()
        self._tokens.append(token)
        self._waiting.clear()
        return True


def _among(token: str | None, right: Iterable[str]) -> bool:
    """Whether a token is one of these. Every one is compared, however soon one fits."""
    return token is not None and sum(_same(token[:_LONGEST], each) for each in right) > 0


def _same(given: str, right: str) -> bool:
    """Compare in a time that does not tell how much was right."""
    return hmac.compare_digest(given.encode("utf-8", "replace"), right.encode())


def _bare(key: str) -> str:
    """The key as it counts: however it was grouped, and in capitals or not."""
    return "".join(key[:_LONGEST].lower().replace("-", " ").split())


def _split_host(header: str) -> tuple[str, int | None]:
    """Host without brackets, and port: 80 where none is said, None where it is no number."""
    if header.startswith("["):
        host, _, rest = header[1:].partition("]")
    else:
        host, colon, port = header.partition(":")
        rest = colon + port
    if not rest:
        return host, 80
    number = rest.removeprefix(":")
    good = rest.startswith(":") and number.isascii() and number.isdigit()
    return host, int(number) if good else None
