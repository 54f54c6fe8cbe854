"""Registers into values: pure, and apart from how they were fetched."""

from __future__ import annotations

import math
import struct
from collections.abc import Sequence
from typing import NamedTuple

from daq.driver_api import ChannelCard, Quality
from drivers.modbus.settings import REGISTERS, ModbusValue

__all__ = ["MOST_REGISTERS", "Block", "Member", "blocks_for", "register_value"]

MOST_REGISTERS = 125
"""In one request (MODBUS application protocol, functions 3 and 4)."""

_CODES = {
    "uint16": "H",
    "int16": "h",
    "uint32": "I",
    "int32": "i",
    "float32": "f",
    "uint64": "Q",
    "int64": "q",
    "float64": "d",
}


class Member(NamedTuple):
    """One channel's place in a block."""

    channel: int
    first: int
    """Its first register, counted from the block's."""
    value: ModbusValue
    card: ChannelCard


class Block(NamedTuple):
    """Registers that are fetched with one request."""

    function: int
    register: int
    size: int
    members: tuple[Member, ...]


def blocks_for(channels: Sequence[ChannelCard], values: Sequence[ModbusValue]) -> tuple[Block, ...]:
    """Put values whose registers touch into one request, so that they are of one moment.

    Registers that no channel wants are never asked for: a device may refuse the whole request for one of them.
    """
    wanted = sorted(
        enumerate(zip(channels, values, strict=True)),
        key=lambda item: (item[1][1].table, item[1][1].register, item[0]),
    )
    blocks: list[Block] = []
    for index, (channel, value) in wanted:
        function = 3 if value.table == "holding" else 4
        end = value.register + REGISTERS[value.type]
        last = blocks[-1] if blocks else None
        if last is not None and last.function == function and _touches(last, value.register, end):
            size = max(last.size, end - last.register)
            member = Member(index, value.register - last.register, value, channel)
            blocks[-1] = last._replace(size=size, members=(*last.members, member))
        else:
            blocks.append(
                Block(function, value.register, end - value.register, (Member(index, 0, value, channel),))
            )
    return tuple(blocks)


def _touches(block: Block, register: int, end: int) -> bool:
    return register <= block.register + block.size and end - block.register <= MOST_REGISTERS


def register_value(registers: Sequence[int], value: ModbusValue) -> tuple[float | None, Quality]:
    """The number that stands in the registers, before the channel's scale.

    Args:
        registers: as many as its type takes, each from 0 to 65535, in the order of their addresses.
        value: type and order.
    """
    ordered = registers if value.words == "high-first" else registers[::-1]
    order = ">" if value.bytes == "high-first" else "<"
    data = b"".join(struct.pack(f"{order}H", register) for register in ordered)
    (number,) = struct.unpack(f">{_CODES[value.type]}", data)
    if number in value.overload or math.isinf(number):
        return None, Quality.OVERLOAD
    if number in value.missing or math.isnan(number):
        return None, Quality.NOT_A_NUMBER
    return float(number), Quality.GOOD
