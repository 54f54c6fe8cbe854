"""Requests and answers byte by byte (CHECKS rows W9 to W12), and what happens when they go wrong."""

from __future__ import annotations

import pytest
from pymodbus.framer import FramerRTU

from daq.driver_api import ChannelCard, Quality, Quantity, Reading
from drivers.frame.checks import crc16_modbus
from drivers.modbus.framing import Answer, Framing
from drivers.modbus.session import ModbusSession
from drivers.modbus.settings import ModbusSettings, ModbusValue

S = 1_000_000_000
ANSWER = bytes.fromhex("11 03 06 AE 41 56 52 43 40 49 AD")
"""W11: to slave 17, start 0x006B, count 3; widely used specification example."""
REQUEST = bytes.fromhex("11 03 00 6B 00 03 76 87")


def with_crc(text: str) -> bytes:
    data = bytes.fromhex(text)
    return data + crc16_modbus(data).to_bytes(2, "little")


def session_for(*values: ModbusValue, tcp: bool = False, unit: int = 17) -> ModbusSession:
    settings = ModbusSettings(value=values, unit=unit, interval_s=0.5, timeout_s=1.0)
    channels = [ChannelCard(Quantity.AC_VOLTAGE, scale=0.1)] * len(values)
    return ModbusSession(channels, settings, Framing(tcp=tcp, unit=unit), 0.004)


def three() -> ModbusSession:
    return session_for(ModbusValue(0x6B), ModbusValue(0x6C), ModbusValue(0x6D))


def test_crc_check_value() -> None:
    """W9 and the trap about it: pymodbus gives the two bytes swapped, as they go over the wire."""
    assert crc16_modbus(b"123456789") == 0x4B37
    assert FramerRTU.compute_CRC(b"123456789") == 0x374B


@pytest.mark.parametrize(
    "frame",
    [
        "02 07 41 12",  # W10: MODBUS over Serial Line V1.02, CRC appendix
        "11 03 00 6B 00 03 76 87",  # W11
        "11 03 06 AE 41 56 52 43 40 49 AD",  # W11
        "11 01 00 13 00 25 0E 84",  # W12
        "11 02 00 C4 00 16 BA A9",  # W12
        "11 04 00 08 00 01 B2 98",  # W12
        "01 03 00 00 00 0A C5 CD",  # W12
    ],
)
def test_published_frames_have_the_right_crc(frame: str) -> None:
    assert with_crc(frame[:-6]) == bytes.fromhex(frame)


@pytest.mark.parametrize(
    ("unit", "function", "register", "count", "frame"),
    [
        (17, 3, 0x6B, 3, "11 03 00 6B 00 03 76 87"),
        (17, 4, 8, 1, "11 04 00 08 00 01 B2 98"),
        (1, 3, 0, 10, "01 03 00 00 00 0A C5 CD"),
    ],
)
def test_requests_as_published(unit: int, function: int, register: int, count: int, frame: str) -> None:
    """W11, W12: the reads of registers; the driver has no use for coils."""
    assert Framing(tcp=False, unit=unit).ask(function, register, count).data == bytes.fromhex(frame)


def test_a_request_over_tcp() -> None:
    framing = Framing(tcp=True, unit=17)
    assert framing.ask(3, 0x6B, 3).data == bytes.fromhex("00 01 00 00 00 06 11 03 00 6B 00 03")
    asked = framing.ask(3, 0x6B, 3)
    assert asked.data[:2] == b"\0\2", "each request has a number of its own"
    answer = bytes.fromhex("00 02 00 00 00 09 11 03 06 AE 41 56 52 43 40")
    assert framing.answer(answer, asked) == Answer((0xAE41, 0x5652, 0x4340))
    assert framing.answer(b"\0\1" + answer[2:], asked) is None, "an answer to an older request"


def test_the_published_answer() -> None:
    """W11: 0xAE41, 0x5652, 0x4340."""
    session = three()
    assert session.advance(0) == REQUEST
    assert session.awaited == "an answer from unit 17 for holding registers 107 to 109"
    assert session.feed(ANSWER, 5) == [
        Reading(0, 5, 0xAE41 * 0.1),
        Reading(1, 5, 0x5652 * 0.1),
        Reading(2, 5, 0x4340 * 0.1),
    ]


def test_it_asks_again_after_the_interval_and_never_within_the_silent_gap() -> None:
    session = three()
    session.advance(0)
    session.feed(ANSWER, round(0.1 * S))
    assert session.due_ns(round(0.1 * S)) == round(0.5 * S)
    assert session.advance(round(0.49 * S)) == b""
    assert session.advance(round(0.5 * S)) == REQUEST
    session.feed(ANSWER, round(1.199 * S))
    assert session.due_ns(round(1.199 * S)) == round(1.203 * S), "4 ms after the last byte"


def test_two_blocks_take_turns() -> None:
    session = session_for(ModbusValue(0x6B), ModbusValue(8, table="input"))
    first = session.advance(0)
    session.feed(with_crc("11 03 02 00 64"), 10)
    second = session.advance(S // 10)
    assert [first[1], second[1]] == [3, 4]
    assert session.feed(with_crc("11 04 02 00 0A"), S // 10 + 5) == [Reading(1, S // 10 + 5, 1.0)]


def test_an_answer_that_does_not_come_is_counted_and_late_ones_are_thrown_away() -> None:
    session = three()
    session.advance(0)
    assert session.advance(S) == b""
    assert session.timeouts == 1
    assert session.feed(ANSWER, S + 5) == [], "late: it could be of any age"
    assert session.late_answers == 1
    assert session.advance(S + S // 2) == b"", "quiet for as long as an answer may take"
    assert session.advance(2 * S) == REQUEST
    assert len(session.feed(ANSWER, 2 * S + 5)) == 3


def test_a_table_that_is_not_answered_does_not_keep_the_other_waiting() -> None:
    session = session_for(ModbusValue(0x6B), ModbusValue(8, table="input"))
    assert session.advance(0)[1] == 3
    assert session.advance(S) == b""
    assert session.advance(2 * S)[1] == 4


def test_an_answer_of_another_length_is_refused() -> None:
    framing = Framing(tcp=False, unit=17)
    asked = framing.ask(3, 0x6B, 3)
    assert framing.answer(ANSWER, asked) == Answer((0xAE41, 0x5652, 0x4340))
    assert framing.answer(with_crc("11 03 04 AE 41 56 52"), asked) is None


def test_an_answer_amid_much_junk_that_came_at_once_is_found() -> None:
    session = three()
    session.advance(0)
    readings = session.feed(b"\0" * 500 + ANSWER + b"\0" * 500, 1)
    assert [r.quality for r in readings] == [Quality.BAD_FRAME] * 3 + [Quality.GOOD] * 3


@pytest.mark.parametrize("place", range(len(ANSWER)))
def test_each_flipped_bit_of_an_answer_is_found(place: int) -> None:
    for bit in range(8):
        session = three()
        session.advance(0)
        hurt = bytearray(ANSWER)
        hurt[place] ^= 1 << bit
        readings = session.feed(bytes(hurt), 5)
        assert {r.quality for r in readings} <= {Quality.BAD_FRAME}
        assert all(r.value is None for r in readings)
        assert readings or session.advance(S) == b"" and session.timeouts == 1


def test_a_hurt_answer_is_asked_for_again_soon() -> None:
    session = three()
    session.advance(0)
    hurt = ANSWER[:-1] + b"\0"
    assert session.feed(hurt, 5) == [Reading(n, 5, None, Quality.BAD_FRAME) for n in range(3)]
    assert session.due_ns(5) == S // 2
    assert session.timeouts == 0


def test_what_a_two_wire_adapter_sends_back_is_passed_over() -> None:
    session = three()
    session.advance(0)
    assert session.feed(REQUEST[:3], 1) == []
    assert session.feed(REQUEST[3:], 2) == []
    assert [r.quality for r in session.feed(ANSWER, 3)] == [Quality.GOOD] * 3


def test_junk_before_an_answer_is_told_once_and_hides_nothing() -> None:
    session = three()
    session.advance(0)
    assert [r.quality for r in session.feed(b"\x00\x11\x03", 1)] == [Quality.BAD_FRAME] * 3
    readings = session.feed(b"\x11\xff" + ANSWER, 2)
    assert [r.quality for r in readings] == [Quality.GOOD] * 3


@pytest.mark.parametrize(
    ("code", "words"), [(1, "function"), (2, "no such register"), (11, "does not answer"), (99, "manual")]
)
def test_a_refusal_is_told_once_and_flags_its_channels(code: int, words: str) -> None:
    session = three()
    for turn in range(2):
        session.advance(turn * S)
        readings = session.feed(with_crc(f"11 83 {code:02X}"), turn * S + 5)
        assert [(r.channel, r.value, r.quality) for r in readings] == [
            (n, None, Quality.NOT_A_NUMBER) for n in range(3)
        ]
    (remark,) = session.remarks
    assert f"exception {code}" in remark
    assert words in remark


@pytest.mark.parametrize(
    "foreign",
    [
        with_crc("12 03 06 AE 41 56 52 43 40"),  # another unit
        with_crc("11 04 06 AE 41 56 52 43 40"),  # another function
        with_crc("11 03 04 AE 41 56 52"),  # another length
    ],
)
def test_an_answer_to_something_else_is_no_reading(foreign: bytes) -> None:
    session = three()
    session.advance(0)
    assert all(r.value is None for r in session.feed(foreign, 5))


def test_a_link_that_breaks_in_mid_answer() -> None:
    session = three()
    session.advance(0)
    session.feed(ANSWER[:6], 5)
    assert session.flush() == [Reading(n, 5, None, Quality.BAD_FRAME) for n in range(3)]
    assert session.flush() == []


def test_lost_bytes_mean_waiting_until_the_answer_must_have_passed() -> None:
    session = three()
    session.advance(0)
    session.feed(ANSWER[:3], 5)
    session.lost()
    assert session.feed(ANSWER[6:], 10) == []
    assert session.due_ns(10) == S
    assert session.advance(S) == REQUEST
