"""The conversation with a Modbus device, as a state machine without I/O or clock.

An RTU answer does not say which request it belongs to. So after an answer that
did not come in time nothing is asked for as long again, and what arrives in
that time is thrown away: else every answer from then on might be one too old.
"""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import ChannelCard, Quality, Reading
from drivers.modbus.framing import Answer, Asked, Framing
from drivers.modbus.registers import Block, blocks_for, register_value
from drivers.modbus.settings import REGISTERS, ModbusSettings

__all__ = ["ModbusSession"]

_MOST_BYTES = 264
_AFTER_BAD_NS = 100_000_000
_MOST_REMARKS = 50
# MODBUS application protocol, exception codes (from memory).
_EXCEPTIONS = {
    1: "the device does not know this function: try the other table, holding or input",
    2: "the device has no such register: check register and type in the card, counted from 0",
    3: "the device does not accept the request: check the types in the card",
    4: "the device has failed",
    5: "the device has accepted but is not done",
    6: "the device is busy",
    10: "the gateway has no way to the device: check unit in the card",
    11: "the device behind the gateway does not answer: check unit in the card, its power and its wiring",
}


class ModbusSession:
    """Requests out, bytes in, readings out; see :class:`drivers.transports.asked.AskedSession`.

    Args:
        channels: the card's.
        settings: the card's.
        framing: RTU or TCP.
        gap_s: silence that must part two frames.
    """

    def __init__(
        self, channels: Sequence[ChannelCard], settings: ModbusSettings, framing: Framing, gap_s: float
    ) -> None:
        self.max_frame = _MOST_BYTES
        self.awaited = f"an answer from unit {settings.unit}"
        self.remarks: list[str] = []
        self.timeouts = 0
        self.late_answers = 0
        self._settings = settings
        self._framing = framing
        self._gap_ns = round(gap_s * 1e9)
        self._blocks = blocks_for(channels, settings.value)
        self._turn = 0
        self._asked: Asked | None = None
        self._asked_ns = 0
        self._not_before_ns = 0
        self._next_round_ns = 0
        self._t_ns = 0
        self._held = b""
        self._junk = False
        self._told: set[tuple[int, int]] = set()

    def due_ns(self, now_ns: int) -> int:
        """When :meth:`advance` has something to do, if nothing arrives before."""
        if self._asked is not None:
            return self._asked_ns + round(self._settings.timeout_s * 1e9)
        earliest = max(now_ns, self._not_before_ns)
        return max(earliest, self._next_round_ns) if self._turn == 0 else earliest

    def advance(self, now_ns: int) -> bytes:
        """What is to be sent now; empty while an answer or the next turn is waited for."""
        if now_ns < self.due_ns(now_ns):
            return b""
        if self._asked is not None:
            self.timeouts += 1
            self._give_up(now_ns + round(self._settings.timeout_s * 1e9))
            # A device may answer for one table and not for the other.
            self._next_turn()
            return b""
        return self._request(now_ns)

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        """Take in bytes that arrived at ``t_ns`` and give the readings they complete."""
        self._t_ns = t_ns
        self._not_before_ns = max(self._not_before_ns, t_ns + self._gap_ns)
        asked = self._asked
        if asked is None:
            self.late_answers += 1
            return []
        self._held += data
        if asked.data.startswith(self._held):
            return []  # two-wire adapters send back what they were given
        self._held = self._held.removeprefix(asked.data)
        return self._hunt(asked, t_ns)

    def flush(self) -> list[Reading]:
        """The link has ended: an answer cut short is a bad frame."""
        cut = bool(self._held) and self._asked is not None
        readings = self._noted_junk(self._blocks[self._turn], self._t_ns) if cut else []
        self._asked, self._held, self._junk = None, b"", False
        return readings

    def lost(self) -> None:
        """Bytes were dropped on the way: wait until all of an answer must have passed."""
        self._give_up(self._asked_ns + round(self._settings.timeout_s * 1e9))

    def _request(self, now_ns: int) -> bytes:
        block = self._blocks[self._turn]
        if self._turn == 0:
            self._next_round_ns = now_ns + round(self._settings.interval_s * 1e9)
        self._asked = self._framing.ask(block.function, block.register, block.size)
        self._asked_ns = now_ns
        self._held, self._junk = b"", False
        self.awaited = f"an answer from unit {self._settings.unit} for {_named(block)}"
        return self._asked.data

    def _give_up(self, quiet_until_ns: int) -> None:
        self._asked, self._held, self._junk = None, b"", False
        self._not_before_ns = max(self._not_before_ns, quiet_until_ns)

    def _hunt(self, asked: Asked, t_ns: int) -> list[Reading]:
        """Look for an answer at every place, for junk may stand before it."""
        block = self._blocks[self._turn]
        place, broken = 0, False
        while place < len(self._held):
            length = self._length_at(asked, place)
            if length is None:
                place += 1
                continue
            if len(self._held) < place + length:
                break
            answer = self._framing.answer(self._held[place : place + length], asked)
            if answer is not None:
                readings = self._noted_junk(block, t_ns) if place else []
                return readings + self._answered(block, answer, t_ns)
            broken = True
            place += 1
        self._held = self._held[place:]
        readings = self._noted_junk(block, t_ns) if place else []
        if broken and not self._held:
            self._give_up(t_ns + _AFTER_BAD_NS)
            self._next_turn()
        return readings

    def _noted_junk(self, block: Block, t_ns: int) -> list[Reading]:
        """One bad frame for each request, however much junk comes instead of its answer."""
        if self._junk:
            return []
        self._junk = True
        return self._flagged(block, t_ns, Quality.BAD_FRAME)

    def _next_turn(self) -> None:
        self._turn = (self._turn + 1) % len(self._blocks)

    def _length_at(self, asked: Asked, place: int) -> int | None:
        for opening, length in asked.openings:
            if opening.startswith(self._held[place : place + len(opening)]):
                return length
        return None

    def _answered(self, block: Block, answer: Answer, t_ns: int) -> list[Reading]:
        self._asked, self._held = None, b""
        self._next_turn()
        if answer.exception is not None:
            self._refused(block, answer.exception)
            return self._flagged(block, t_ns, Quality.NOT_A_NUMBER)
        readings: list[Reading] = []
        for member in sorted(block.members):
            registers = answer.registers[member.first : member.first + REGISTERS[member.value.type]]
            value, quality = register_value(registers, member.value)
            if value is not None:
                value = value * member.card.scale + member.card.offset
            readings.append(Reading(member.channel, t_ns, value, quality))
        return readings

    def _refused(self, block: Block, code: int) -> None:
        if (block.register, code) in self._told or len(self.remarks) >= _MOST_REMARKS:
            return
        self._told.add((block.register, code))
        why = _EXCEPTIONS.get(code, "its manual says what that means")
        self.remarks.append(
            f"Unit {self._settings.unit} refused {_named(block)} with exception {code}: {why}."
        )

    def _flagged(self, block: Block, t_ns: int, quality: Quality) -> list[Reading]:
        return [Reading(channel, t_ns, None, quality) for channel in sorted(m.channel for m in block.members)]


def _named(block: Block) -> str:
    table = "holding" if block.function == 3 else "input"
    if block.size == 1:
        return f"{table} register {block.register}"
    return f"{table} registers {block.register} to {block.register + block.size - 1}"
