"""Decoder of CSC Measurement as a counter: revolutions, and beside them the instrument's own time."""

from __future__ import annotations

from typing import Literal

from daq.driver_api import Quality, Reading
from drivers.gatt.csc import CRANK_BITS, CSC_LONGEST, WHEEL_BITS, CscMeasurement, Event, parse_csc
from drivers.gatt.revolutions import UnwrappedCount

__all__ = ["CountsDecoder"]


class CountsDecoder:
    """Gives a reading for each new event; a packet that repeats the last one gives none.

    Unchanged means that no further mark has passed, not that nothing turns, so
    no speed is made of it. Where the count has to start afresh (a gap of about
    64 s, a device that was switched off and on), a reading of quality ``LOST``
    stands on each channel before the first of the new piece, and both begin
    again at 0: that they fall is how those who follow see it.

    Args:
        revolutions: channel of the count.
        device_time: channel of the instrument's clock, or None.
        marks: counts a revolution.
        counter: which of the two counts.
        most_rpm: nothing turns faster.
    """

    max_frame = CSC_LONGEST

    def __init__(
        self,
        revolutions: int,
        device_time: int | None,
        marks: int,
        counter: Literal["wheel", "crank", "either"] = "either",
        most_rpm: float = 30_000.0,
    ) -> None:
        self.needs = "5, 7 or 11 bytes, as its flags say"
        self.awaited = ""
        """What is due besides a packet."""
        self._channels = (revolutions,) if device_time is None else (revolutions, device_time)
        self._marks = marks
        self._counter = counter
        self._most_per_s = most_rpm / 60.0 * marks
        self._unwrapped = self._fresh()

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        packet = parse_csc(data)
        if packet is None:
            return self._flagged(t_ns, Quality.BAD_FRAME)
        event = self._pick(packet)
        if event is None:
            self.awaited = "the counter that the card names: the packets hold only the other one, or none"
            return []
        turned = self._unwrapped.take(event, t_ns)
        if turned is None:
            self.awaited = (
                "a count that changes: the packets repeat the last one, so the shaft seems to stand"
            )
            return []
        self.awaited = ""
        readings = self._flagged(t_ns, Quality.LOST) if turned.afresh else []
        for channel, value in zip(
            self._channels, (turned.counted / self._marks, turned.device_s), strict=False
        ):
            readings.append(Reading(channel, t_ns, value))
        return readings

    def flush(self) -> list[Reading]:
        self.resync()
        return []

    def resync(self) -> None:
        """Packets were lost, and whoever feeds this has told so: the next event starts afresh."""
        self._unwrapped.forget()

    def _pick(self, packet: CscMeasurement) -> Event | None:
        """The event of the count we follow; where the card leaves it open, the first count seen is kept to."""
        if self._counter == "either" and (packet.wheel or packet.crank):
            self._counter = "wheel" if packet.wheel else "crank"
            self._unwrapped = self._fresh()
        return packet.wheel if self._counter == "wheel" else packet.crank

    def _fresh(self) -> UnwrappedCount:
        return UnwrappedCount(CRANK_BITS if self._counter == "crank" else WHEEL_BITS, self._most_per_s)

    def _flagged(self, t_ns: int, quality: Quality) -> list[Reading]:
        return [Reading(channel, t_ns, None, quality) for channel in self._channels]
