"""Requests into bytes and bytes into answers, by pymodbus's own framers and messages.

pymodbus's client reads in the event loop. Here the bytes come from the link
that all drivers share, stamped where they arrived, and its errors are told the
same way; so pymodbus is used for what goes over the wire and not for the port.
"""

from __future__ import annotations

import logging
from typing import NamedTuple

from pymodbus.exceptions import ModbusException
from pymodbus.framer import FramerRTU, FramerSocket
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import ReadHoldingRegistersRequest, ReadInputRegistersRequest

__all__ = ["Answer", "Asked", "Framing"]

_REQUESTS = {3: ReadHoldingRegistersRequest, 4: ReadInputRegistersRequest}
# Without a handler Python would print the library's warnings into a terminal that is not ours to write to.
logging.getLogger("pymodbus").addHandler(logging.NullHandler())


class Answer(NamedTuple):
    """What a device answered."""

    registers: tuple[int, ...]
    exception: int | None = None
    """The code with which it refused."""


class Asked(NamedTuple):
    """A request on the wire, and what its answers must look like."""

    data: bytes
    transaction: int
    unit: int
    size: int
    openings: tuple[tuple[bytes, int], ...]
    """First bytes of an answer with registers and of a refusal, each with the whole length."""


class Framing:
    """RTU or TCP.

    Args:
        tcp: Modbus TCP; else RTU.
        unit: number of the device.
    """

    def __init__(self, *, tcp: bool, unit: int) -> None:
        self._tcp = tcp
        self._unit = unit
        self._framer = FramerSocket(DecodePDU(False)) if tcp else FramerRTU(DecodePDU(False))
        self._transaction = 0

    def ask(self, function: int, register: int, count: int) -> Asked:
        """Frame a request for registers."""
        if self._tcp:
            self._transaction = self._transaction % 65_535 + 1
        message = _REQUESTS[function](
            address=register, count=count, dev_id=self._unit, transaction_id=self._transaction
        )
        return Asked(
            bytes(self._framer.buildFrame(message)),
            self._transaction,
            self._unit,
            count,
            (self._opening(function, 2 * count), self._opening(function | 0x80, None)),
        )

    def answer(self, frame: bytes, asked: Asked) -> Answer | None:
        """Read one whole frame; None where its check value or its content is wrong."""
        try:
            _, message = self._framer.handleFrame(frame, asked.unit, asked.transaction)
        except ModbusException:
            return None
        if message is None:
            return None
        if message.isError():
            return Answer((), message.exception_code)
        registers = tuple(message.registers)
        return Answer(registers) if len(registers) == asked.size else None

    def _opening(self, function: int, byte_count: int | None) -> tuple[bytes, int]:
        """An answer's first bytes, and its length: unit, function, byte count or exception code, data."""
        body = bytes([self._unit, function]) + (b"" if byte_count is None else bytes([byte_count]))
        size = 3 + (byte_count or 0)
        if self._tcp:
            head = self._transaction.to_bytes(2, "big") + b"\0\0" + size.to_bytes(2, "big")
            return head + body, 6 + size
        return body, size + 2
