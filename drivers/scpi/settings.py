"""What a SCPI card may say in ``[settings]``."""

from __future__ import annotations

import msgspec

from daq.driver_api import CardError, InstrumentCard
from drivers.card_settings import settings_of

__all__ = ["ScpiSettings", "parse_settings"]


class ScpiSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """What is sent, how often, and how long an answer may take."""

    query: str
    """Asks for one reading, such as "MEAS:VOLT:AC?"."""
    setup: tuple[str, ...] = ("*CLS",)
    """Sent once after connecting, each a message of its own."""
    identity: str = "*IDN?"
    """Asked at the start, and after a missing answer: its answer shows where the stream is."""
    error_query: str = "SYST:ERR?"
    """Asks for the oldest entry of the error queue; empty: the instrument has none."""
    function_query: str = ""
    """Asks what is measured, such as "FUNC?"; empty: the instrument does not tell."""
    range_query: str = ""
    """Asks for the upper end of the range, such as "VOLT:AC:RANG?"; empty: it is not asked for."""
    auto_range_query: str = ""
    """Asks whether the range changes by itself, such as "VOLT:AC:RANG:AUTO?"; empty: it is not asked for."""
    check_every_s: float = 2.0
    """How often these three are asked, behind a reading."""
    interval_s: float = 0.2
    """Least time from one query to the next."""
    timeout_s: float = 3.0
    """Longest time an answer may take."""
    max_answer: int = 512
    """Longest answer, in bytes."""

    def __post_init__(self) -> None:
        commands = [("query", self.query), ("identity", self.identity), *(("setup", c) for c in self.setup)]
        optional = ("error_query", "function_query", "range_query", "auto_range_query")
        commands += [(key, getattr(self, key)) for key in optional if getattr(self, key)]
        for key, command in commands:
            if not (command and command.isascii() and command.isprintable() and len(command) <= 200):
                raise ValueError(f"{key} = {command!r} must be 1 to 200 printable ASCII characters")
        for key, command in commands:
            if "?" not in command and key != "setup":
                raise ValueError(f"{key} = {command!r} must be a query, with a question mark")
        if not 0.2 <= self.check_every_s <= 3600:
            raise ValueError(f"check_every_s = {self.check_every_s} must be from 0.2 to 3600 s")
        if not 0 <= self.interval_s <= 60:
            raise ValueError(f"interval_s = {self.interval_s} must be from 0 to 60 s")
        if not 0.05 <= self.timeout_s <= 60:
            raise ValueError(f"timeout_s = {self.timeout_s} must be from 0.05 to 60 s")
        if not 16 <= self.max_answer <= 4096:
            raise ValueError(f"max_answer = {self.max_answer} must be from 16 to 4096 bytes")
        if len(self.setup) > 32:
            raise ValueError(f"setup has {len(self.setup)} commands; at most 32 are accepted")


def parse_settings(card: InstrumentCard) -> ScpiSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, ScpiSettings)
    if len(card.channel) != 1:
        raise CardError(
            f"Instrument card {card.name}: protocol scpi asks one query for one [[channel]], "
            f"not {len(card.channel)}."
        )
    return settings
