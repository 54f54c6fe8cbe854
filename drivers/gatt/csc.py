"""The packet of CSC Measurement (0x2A5B): running counts with the time of the last event.

Source: Bluetooth SIG, GATT Specification Supplement (CHECKS W14): flags, then
uint32 wheel revolutions and uint16 time where bit 0 is set, then uint16 crank
revolutions and uint16 time where bit 1 is set; time in 1/1024 s; lowest byte
first.
"""

from __future__ import annotations

from typing import NamedTuple

__all__ = ["CRANK_BITS", "CSC_LENGTHS", "CSC_LONGEST", "WHEEL_BITS", "CscMeasurement", "Event", "parse_csc"]

CSC_LENGTHS = (1, 7, 5, 11)
"""Length by flags: nothing, wheel, crank, both."""
CSC_LONGEST = 11
WHEEL_BITS = 32
CRANK_BITS = 16


class Event(NamedTuple):
    """A count, and when it was reached by the instrument's clock."""

    counted: int
    ticks: int
    """Of 1/1024 s, modulo 65536."""


class CscMeasurement(NamedTuple):
    """What one packet says."""

    wheel: Event | None
    crank: Event | None


def parse_csc(data: bytes) -> CscMeasurement | None:
    """Read a packet; None where a reserved flag is set or the length is not what the flags ask for."""
    if not data or data[0] >= len(CSC_LENGTHS) or len(data) != CSC_LENGTHS[data[0]]:
        return None
    wheel = crank = None
    at = 1
    if data[0] & 1:
        wheel = Event(int.from_bytes(data[1:5], "little"), int.from_bytes(data[5:7], "little"))
        at = 7
    if data[0] & 2:
        crank = Event(
            int.from_bytes(data[at : at + 2], "little"), int.from_bytes(data[at + 2 : at + 4], "little")
        )
    return CscMeasurement(wheel, crank)
