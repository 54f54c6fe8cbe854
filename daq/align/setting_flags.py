"""Sentences for readings that carry the instrument's own flag: what to turn, press or change."""

from __future__ import annotations

from collections.abc import Mapping

from daq.model.reading import Quality

__all__ = ["flag_signs"]

LEAST_COUNT = 3
LEAST_SHARE = 0.1

_VOLTS = {
    Quality.WRONG_FUNCTION: "were taken on another function: turn the meter to AC volts (V~)",
    Quality.HOLD: "are held ones: press the meter's HOLD, MAX or MIN off",
    Quality.LOW_BATTERY: "came with the meter's low-battery sign: put a fresh battery into the meter",
    Quality.OVERLOAD: "were beyond the meter's range: turn it to a higher range of AC volts, or to automatic range",
    Quality.BLANK: "were blank, for the meter keeps changing its range: fix the range by hand",
    Quality.NOT_A_NUMBER: "had no value: look at what the meter's display says",
    Quality.BAD_FRAME: "could not be understood: check the line speed, the cable and that the card fits the meter",
    Quality.LOST: "were lost on the way: check the plug and the cable, and bring a radio link closer",
    Quality.IMPLAUSIBLE: "can't be: check that the card fits the meter",
}
_SPEED = {
    Quality.WRONG_FUNCTION: "were not a speed in rpm: set the tachometer to rpm",
    Quality.HOLD: "are held ones: switch the tachometer back from its memory to measuring",
    Quality.LOW_BATTERY: "came with the tachometer's low-battery sign: put a fresh battery into it",
    Quality.OVERLOAD: "were beyond the tachometer's range: see that it is set to rpm and counts one mark",
    Quality.BLANK: "were blank: aim the tachometer at the mark",
    Quality.NOT_A_NUMBER: "had no value: aim the tachometer at the mark, or see what its sender reports",
    Quality.BAD_FRAME: "could not be understood: check the line speed, the cable and that the card fits the tachometer",
    Quality.LOST: "were lost on the way: check the plug and the cable, and bring a radio link closer",
    Quality.IMPLAUSIBLE: "can't be: check that the card fits the tachometer",
}


def flag_signs(stream: str, counts: Mapping[Quality, int]) -> list[str]:
    """What the flags of one stream ask for, the most frequent first.

    Args:
        stream: "volts" or "speed".
        counts: how many readings had which quality, good ones included.
    """
    words = _VOLTS if stream == "volts" else _SPEED
    total = sum(counts.values())
    often = [
        (count, quality)
        for quality, count in counts.items()
        if quality in words and count >= max(LEAST_COUNT, LEAST_SHARE * total)
    ]
    often.sort(key=lambda item: (-item[0], item[1]))
    return [f"{count} of {total} {stream} readings {words[quality]}." for count, quality in often]
