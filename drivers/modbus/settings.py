"""What a Modbus card may say in ``[settings]``."""

from __future__ import annotations

from typing import Literal

import msgspec

from daq.driver_api import InstrumentCard
from drivers.card_settings import one_value_a_channel, settings_of

__all__ = ["REGISTERS", "ModbusSettings", "ModbusValue", "parse_settings", "silent_gap_s"]

REGISTERS = {
    "uint16": 1,
    "int16": 1,
    "uint32": 2,
    "int32": 2,
    "float32": 2,
    "uint64": 4,
    "int64": 4,
    "float64": 4,
}
"""How many registers of 16 bits each type takes."""


class ModbusValue(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where one channel's number stands; scale and offset are the channel's own."""

    register: int
    """Address as it goes over the wire, counted from 0: a manual's "40001" is holding register 0."""
    table: Literal["holding", "input"] = "holding"
    """Function code 3 or 4."""
    type: Literal["uint16", "int16", "uint32", "int32", "float32", "uint64", "int64", "float64"] = "uint16"
    words: Literal["high-first", "low-first"] = "high-first"
    """Which register of several holds the part that counts most."""
    bytes: Literal["high-first", "low-first"] = "high-first"
    """Order of the two bytes within a register; the standard says high first."""
    overload: tuple[int, ...] = ()
    """Numbers, before scaling, that mean beyond the range, such as 32767."""
    missing: tuple[int, ...] = ()
    """Numbers, before scaling, that mean no value, such as 65535."""

    def __post_init__(self) -> None:
        if not 0 <= self.register <= 65536 - REGISTERS[self.type]:
            raise ValueError(
                f"register = {self.register} must be from 0 to {65536 - REGISTERS[self.type]} for {self.type}"
            )


class ModbusSettings(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """All of it."""

    value: tuple[ModbusValue, ...]
    unit: int = 1
    """Number of the device on its line ("slave address", "unit identifier")."""
    interval_s: float = 0.2
    """Least time from one reading of all values to the next."""
    timeout_s: float = 1.0
    """Longest time an answer may take."""
    framing: Literal["auto", "rtu", "tcp"] = "auto"
    """auto: TCP at a socket:// address, RTU elsewhere. "rtu" at a socket:// address is for serial servers."""

    def __post_init__(self) -> None:
        if not 0 <= self.unit <= 255:
            raise ValueError(f"unit = {self.unit} must be from 0 to 255")
        if not 0 <= self.interval_s <= 60:
            raise ValueError(f"interval_s = {self.interval_s} must be from 0 to 60 s")
        if not 0.05 <= self.timeout_s <= 60:
            raise ValueError(f"timeout_s = {self.timeout_s} must be from 0.05 to 60 s")


def parse_settings(card: InstrumentCard) -> ModbusSettings:
    """Check a card's settings and channels.

    Raises:
        CardError: naming the key and what would be accepted.
    """
    settings = settings_of(card, ModbusSettings)
    one_value_a_channel(card, settings.value)
    return settings


def silent_gap_s(baud: int) -> float:
    """Silence that parts two RTU frames: 3.5 characters of 11 bits, 1.75 ms above 19200 baud.

    MODBUS over Serial Line, 2.5.1.1 (clause from memory).
    """
    return 0.00175 if baud > 19_200 else 3.5 * 11 / baud
