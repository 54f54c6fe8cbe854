"""Bluetooth's numbers for services, characteristics and units, as cards write them and as the radio gives them.

Short numbers stand for a place in the Bluetooth base UUID
(Core specification, volume 3, part B, 2.5.1).
"""

from __future__ import annotations

import re

__all__ = [
    "CSC_MEASUREMENT",
    "CSC_SERVICE",
    "ELECTRIC_CURRENT",
    "INDUSTRIAL_MEASUREMENT_SERVICE",
    "PRESENTATION_FORMAT",
    "ROTATIONAL_SPEED",
    "VOLTAGE",
    "full_uuid",
    "named_uuid",
    "short_uuid",
]

_BASE_TAIL = "-0000-1000-8000-00805f9b34fb"
_SHORT = re.compile(r"(?:0[xX])?([0-9A-Fa-f]{4})")
_LONG = re.compile(r"[0-9A-Fa-f]{8}-(?:[0-9A-Fa-f]{4}-){3}[0-9A-Fa-f]{12}")

CSC_SERVICE = 0x1816
INDUSTRIAL_MEASUREMENT_SERVICE = 0x185A
"""From memory; only a hint as to which card could fit."""
CSC_MEASUREMENT = 0x2A5B
PRESENTATION_FORMAT = 0x2904
VOLTAGE = 0x2B18
ELECTRIC_CURRENT = 0x2AEE
ROTATIONAL_SPEED = 0x2C09

_NAMES = {
    0x1800: "Generic Access",
    0x1801: "Generic Attribute",
    0x180A: "Device Information",
    0x180F: "Battery",
    CSC_SERVICE: "Cycling Speed and Cadence",
    INDUSTRIAL_MEASUREMENT_SERVICE: "Industrial Measurement Device",
    CSC_MEASUREMENT: "CSC Measurement",
    VOLTAGE: "Voltage",
    ELECTRIC_CURRENT: "Electric Current",
    ROTATIONAL_SPEED: "Rotational Speed",
}


def full_uuid(text: str) -> str:
    """The 128-bit form, in small letters, of "2A5B", "0x2A5B" or a full UUID.

    Raises:
        ValueError: it is none of these.
    """
    short = _SHORT.fullmatch(text)
    if short is not None:
        return f"0000{short.group(1).lower()}{_BASE_TAIL}"
    if _LONG.fullmatch(text):
        return text.lower()
    raise ValueError(f"{text!r} must be four hex digits such as 0x2A5B, or a UUID of 8-4-4-4-12 hex digits")


def short_uuid(uuid: str) -> int | None:
    """The 16-bit number of a full UUID, or None where it is not one of Bluetooth's own."""
    head, tail = uuid[:8].lower(), uuid[8:].lower()
    return int(head, 16) if tail == _BASE_TAIL and head.startswith("0000") else None


def named_uuid(uuid: str) -> str:
    """The UUID as short as it goes, with its name where we know it: "CSC Measurement (0x2A5B)"."""
    short = short_uuid(uuid)
    if short is None:
        return uuid
    name = _NAMES.get(short)
    return f"{name} (0x{short:04X})" if name else f"0x{short:04X}"
