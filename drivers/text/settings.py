"""What a text card may say in ``[settings]``."""

from __future__ import annotations

import msgspec

from daq.driver_api import InstrumentCard, Quantity
from drivers.card_settings import card_fault, settings_of
from drivers.text.patterns import check_pattern

__all__ = ["FIRST_NUMBER", "TextSettings", "parse_settings"]

FIRST_NUMBER = "first-number"
_MOST_FIELDS = 64


class TextSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a line is read: by its first number, or by pattern, delimiter or JSON keys.

    A channel with quantity ``device_time`` takes the instrument's own time; the
    channel's scale turns it into seconds.
    """

    pattern: str = FIRST_NUMBER
    """"first-number": the first number in the line that does not belong to a name such as CH1.
    Else a regular expression in RE2's syntax, with one group in parentheses for each channel, in order."""
    delimiter: str = ""
    """What stands between the fields of a line; a space stands for any run of spaces and tabs."""
    fields: tuple[int, ...] = ()
    """Which field belongs to which channel, counted from 1; left out: the first to the first, and so on."""
    field_count: int | None = None
    """How many fields a line has; left out: as many as the highest in use."""
    keys: tuple[str, ...] = ()
    """The line is a JSON object; which key belongs to which channel. "engine.rpm" looks inside "engine"."""
    pass_over: str = ""
    """Lines that begin with this are let pass, such as "#"."""
    time_bits: int | None = None
    """The device time, before scaling, starts again from 0 after this many bits are full."""
    decimal_comma: bool = False
    """19,62 means 19.62. Otherwise such a number is refused, for it could be two."""
    require_unit: bool = False
    """A line without a unit word is a bad one."""
    overload_words: tuple[str, ...] = ()
    """Further words that mean beyond the range, besides OL, OVER, OVERLOAD and their like."""
    max_line: int = 256
    """Longest line, in bytes."""

    def __post_init__(self) -> None:
        if not 8 <= self.max_line <= 4096:
            raise ValueError(f"max_line = {self.max_line} must be from 8 to 4096 bytes")
        for word in self.overload_words:
            if not 1 <= len(word) <= 32:
                raise ValueError(f"overload_words: {word!r} must have 1 to 32 characters")
        ways = (self.pattern != FIRST_NUMBER, bool(self.delimiter), bool(self.keys))
        if sum(ways) > 1:
            raise ValueError("pattern, delimiter and keys are three ways to read a line: give one of them")
        if self.time_bits is not None and not 8 <= self.time_bits <= 64:
            raise ValueError(f"time_bits = {self.time_bits} must be from 8 to 64")
        if self.require_unit and self.keys:
            raise ValueError("require_unit does not go with keys: numbers in JSON have no unit")
        self._check_delimiter()

    def _check_delimiter(self) -> None:
        if (self.fields or self.field_count is not None) and not self.delimiter:
            raise ValueError("fields and field_count go with delimiter only")
        if not self.delimiter:
            return
        bad = set("0123456789.+-\r\n") & set(self.delimiter)
        if bad or len(self.delimiter) > 4 or not self.delimiter.isascii():
            raise ValueError(
                f'delimiter = {self.delimiter!r} must be 1 to 4 characters such as ",", ";" or "\\t", '
                "and none that stands in a number"
            )
        if self.decimal_comma and "," in self.delimiter:
            raise ValueError("a line with decimal commas can't be parted by commas as well")
        highest = self.field_count if self.field_count is not None else _MOST_FIELDS
        if highest > _MOST_FIELDS or not all(1 <= field <= highest for field in self.fields):
            raise ValueError(f"fields must be from 1 to field_count, and field_count at most {_MOST_FIELDS}")


def parse_settings(card: InstrumentCard) -> TextSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, TextSettings)
    try:
        _check_channels(card, settings)
        if settings.pattern != FIRST_NUMBER:
            check_pattern(settings.pattern, len(card.channel))
    except ValueError as error:
        raise card_fault(card, f"[settings]: {error}") from error
    return settings


def _check_channels(card: InstrumentCard, settings: TextSettings) -> None:
    count = len(card.channel)
    if settings.time_bits is not None and not any(c.quantity is Quantity.DEVICE_TIME for c in card.channel):
        raise ValueError('time_bits goes with a channel of quantity "device_time"')
    if settings.keys and len(settings.keys) != count:
        raise ValueError(f"keys must have one key for each [[channel]]: {len(settings.keys)} and {count}")
    if settings.fields and len(settings.fields) != count:
        raise ValueError(
            f"fields must have one place for each [[channel]]: {len(settings.fields)} and {count}"
        )
    if settings.field_count is not None and settings.field_count < count and not settings.fields:
        raise ValueError(f"field_count = {settings.field_count} is less than the {count} channels")
    alone = settings.pattern == FIRST_NUMBER and not settings.delimiter and not settings.keys
    if alone and count != 1:
        raise ValueError(
            f'pattern "first-number" gives one number a line, so it takes one [[channel]], not {count}; '
            "give pattern, delimiter or keys for several"
        )
