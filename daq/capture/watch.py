"""Tells when an instrument has gone silent, or sends nothing but junk. Pure: it is told the time."""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

import msgspec

from daq.cards.instrument import InstrumentCard
from daq.driver_api import InstrumentStatus
from daq.model.reading import Quality, Reading

__all__ = ["Finding", "Health", "Watch", "useful_count"]

_INTERVALS = 3.0
"""Of its own usual intervals an instrument may always be silent for so many."""
_WORTHLESS = {Quality.BAD_FRAME, Quality.LOST}


class Health(Enum):
    """How an open instrument does; the value is the kind of event it makes."""

    WELL = "link_back"
    SILENT = "silent"
    JUNK = "junk"


class Finding(msgspec.Struct, frozen=True):
    """A change for the better or the worse, as a sentence."""

    health: Health
    text: str


def useful_count(readings: Sequence[Reading]) -> int:
    """How many of these the instrument itself gave; bad frames and losses are not counted."""
    return sum(reading.quality not in _WORTHLESS for reading in readings)


class Watch:
    """Watches one connection.

    Args:
        name: the instrument's name in this run.
        address: where it hangs.
        card: its silence limit, its usual interval and its line's settings.
        start_ns: when the connection was opened.
    """

    def __init__(self, name: str, address: str, card: InstrumentCard, start_ns: int) -> None:
        self.health = Health.WELL
        self._who = f"{name} ({address})"
        self._by_radio = address.startswith("ble:")
        self._card = card
        self._limit_s = max(
            card.silence_s, _INTERVALS * max(c.response.interval_s or 0.0 for c in card.channel)
        )
        self._useful_ns = start_ns
        self._bad_since_useful = 0
        self._bytes_at_useful = 0

    def readings(self, readings: Sequence[Reading], status: InstrumentStatus, now_ns: int) -> Finding | None:
        """Take note of readings that came."""
        if not useful_count(readings):
            self._bad_since_useful += len(readings)
            return None
        gone_s = (now_ns - self._useful_ns) / 1e9
        self._useful_ns = now_ns
        self._bad_since_useful = 0
        self._bytes_at_useful = status.bytes_received
        if self.health is Health.WELL:
            return None
        self.health = Health.WELL
        return Finding(Health.WELL, f"{self._who} sends readings again, after {gone_s:.1f} s.")

    def nobody_listened(self, now_ns: int) -> None:
        """Nobody read what came until now: an instrument that was well has its whole time from here on."""
        if self.health is Health.WELL:
            self._useful_ns = now_ns

    def check(self, status: InstrumentStatus, now_ns: int) -> Finding | None:
        """Look at the clock; call it a few times a second."""
        if now_ns - self._useful_ns < self._limit_s * 1e9:
            return None
        health = Health.JUNK if self._bad_since_useful else Health.SILENT
        if health is self.health or (self.health is Health.JUNK and health is Health.SILENT):
            return None
        self.health = health
        text = self._junk(status) if health is Health.JUNK else self._silent(status)
        return Finding(health, text)

    def _silent(self, status: InstrumentStatus) -> str:
        limit = f"{self._limit_s:g} s"
        if status.bytes_received == self._bytes_at_useful:
            what = f"Nothing has come from {self._who} for {limit}"
        else:
            what = f"No reading has come from {self._who} for {limit}"
        check = (
            "it is awake and within reach"
            if self._by_radio
            else f"its data output is on, the cable, and the line speed ({self._line()})"
        )
        return (
            f"{what}: awaited {status.awaited}; last bytes seen: {_shown(status.last_bytes)}. "
            f"Check that it is switched on, that {check}."
        )

    def _junk(self, status: InstrumentStatus) -> str:
        check = "" if self._by_radio else f"the line speed ({self._line()}) and "
        return (
            f"{self._who} has sent only junk for {self._limit_s:g} s: awaited {status.awaited}; "
            f"last bytes seen: {_shown(status.last_bytes)}. Check {check}that the card fits the instrument."
        )

    def _line(self) -> str:
        line = self._card.transport
        return f"the card says {line.baud} baud, {line.bytesize} data bits, parity {line.parity}"


def _shown(data: bytes) -> str:
    """Bytes as printable text, the others as backslash escapes."""
    return f"'{repr(data)[2:-1]}'" if data else "none"
