"""One reading of one channel, and what is known of its worth."""

from __future__ import annotations

from enum import IntEnum

import msgspec

__all__ = ["Quality", "Reading"]


class Quality(IntEnum):
    """What the instrument or the decoder said of a reading.

    The number is what stands in a recording, so numbers are never reused.
    Judgements made later, with both streams in view (a false tach reading, a
    spike), are not stored: they are worked out anew by :mod:`daq.align`.
    """

    GOOD = 0
    OVERLOAD = 1
    """Beyond the instrument's range; the value is missing."""
    NOT_A_NUMBER = 2
    """The instrument said that it has no value."""
    HOLD = 3
    """The display is held: the value is an old one."""
    LOW_BATTERY = 4
    """The instrument's own battery is low; the value can't be trusted."""
    WRONG_FUNCTION = 5
    """The instrument measures another quantity than the channel is for."""
    BAD_FRAME = 6
    """Bytes came that are no reading: junk, a broken checksum, a cut frame. The value is missing."""
    BLANK = 7
    """The instrument is between two ranges and shows no value."""
    LOST = 8
    """Readings were lost here: a full queue, or a link that broke. The value is missing."""
    IMPLAUSIBLE = 9
    """Beyond what the quantity can ever be (:attr:`daq.model.quantity.Quantity.bounds`); the value is not used.

    The reader of a recording marks such readings; the file keeps them as they came.
    """

    @property
    def words(self) -> str:
        """The quality in plain words."""
        return self.name.lower().replace("_", " ")


class Reading(msgspec.Struct, frozen=True, gc=False, array_like=True):
    """A value that an instrument gave, and when its bytes arrived.

    Attributes:
        channel: which of the card's channels, counted from 0.
        t_ns: arrival, nanoseconds on the capture's monotonic clock.
        value: in the unit of the channel's quantity, or None where there is none.
        quality: what is known of its worth.
    """

    channel: int
    t_ns: int
    value: float | None
    quality: Quality = Quality.GOOD
