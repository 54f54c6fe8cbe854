"""Writes NMEA 0183 sentences from the standard's field lists, without the library that the driver uses."""

from __future__ import annotations

__all__ = ["rpm", "sentence", "xdr"]


def sentence(body: str, *, checksum: str | None = None, end: bytes = b"\r\n") -> bytes:
    """``$`` body ``*`` checksum; ``checksum`` puts a given one, "" leaves it out."""
    total = 0
    for character in body.encode("ascii"):
        total ^= character
    if checksum is None:
        checksum = f"{total >> 4:X}{total & 15:X}"
    return f"${body}{'*' + checksum if checksum else ''}".encode("ascii") + end


def rpm(speed: str, *, talker: str = "II", source: str = "E", number: str = "1", status: str = "A") -> bytes:
    """Source, number, speed, pitch, status."""
    return sentence(f"{talker}RPM,{source},{number},{speed},10.5,{status}")


def xdr(*groups: tuple[str, str, str, str], talker: str = "ER") -> bytes:
    """Groups of type, value, unit, name."""
    return sentence(f"{talker}XDR," + ",".join(",".join(group) for group in groups))
