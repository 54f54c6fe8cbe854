"""What a typed line was understood as, told to whoever typed it."""

from __future__ import annotations

from collections.abc import Sequence

from daq.capture.spec import Heard
from daq.driver_api import ChannelCard, Quality, Reading

__all__ = ["heard"]

_SHOWN = 60


def heard(
    line: str, readings: Sequence[Reading], remarks: Sequence[str], channels: Sequence[ChannelCard]
) -> Heard | None:
    """The answer to a line; None to one that says nothing.

    Args:
        line: as typed.
        readings: what the instrument made of it.
        remarks: what it said of it.
        channels: the card's.
    """
    if not readings:
        return None
    if any(reading.quality is Quality.BAD_FRAME for reading in readings):
        shown = " ".join(line.split())[:_SHOWN]
        return Heard(" ".join(remarks) or f"“{shown}” was not taken.", understood=False)
    taken = ", ".join(_value(reading, channels[reading.channel]) for reading in readings)
    return Heard(f"Taken: {taken}.", understood=True)


def _value(reading: Reading, channel: ChannelCard) -> str:
    if reading.value is None:
        return f"{reading.quality.words} ({channel.quantity.value.replace('_', ' ')})"
    return f"{reading.value:.10g} {channel.quantity.unit}"
