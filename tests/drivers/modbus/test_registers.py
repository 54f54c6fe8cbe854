"""Register values and the blocks they are fetched in."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import CardError, ChannelCard, Quality, Quantity, parse_instrument_card
from drivers.modbus import DRIVER
from drivers.modbus.registers import MOST_REGISTERS, blocks_for, register_value
from drivers.modbus.settings import REGISTERS, ModbusValue, silent_gap_s

VOLTS = ChannelCard(Quantity.AC_VOLTAGE)
TYPES = {
    "uint16": "H",
    "int16": "h",
    "uint32": "I",
    "int32": "i",
    "float32": "f",
    "uint64": "Q",
    "int64": "q",
    "float64": "d",
}


@pytest.mark.parametrize(
    ("registers", "value", "expected"),
    [
        ([0xAE41], ModbusValue(0), 44609.0),
        ([0xFB2E], ModbusValue(0, type="int16"), -1234.0),
        ([0x0005, 0x7670], ModbusValue(0, type="uint32"), 358000.0),
        ([0x7670, 0x0005], ModbusValue(0, type="uint32", words="low-first"), 358000.0),
        ([0x0500, 0x7076], ModbusValue(0, type="uint32", bytes="low-first"), 358000.0),
        ([0xFFFF, 0xFFFE], ModbusValue(0, type="int32"), -2.0),
        ([0x4334, 0x0000], ModbusValue(0, type="float32"), 180.0),
        ([0x0000, 0x4334], ModbusValue(0, type="float32", words="low-first"), 180.0),
        ([0x4066, 0x8000, 0x0000, 0x0000], ModbusValue(0, type="float64"), 180.0),
    ],
)
def test_types_and_orders(registers: list[int], value: ModbusValue, expected: float) -> None:
    assert register_value(registers, value) == (expected, Quality.GOOD)


@pytest.mark.parametrize(
    ("registers", "value", "quality"),
    [
        ([32767], ModbusValue(0, type="int16", overload=(32767,)), Quality.OVERLOAD),
        ([65535], ModbusValue(0, missing=(65535,)), Quality.NOT_A_NUMBER),
        ([0x7FC0, 0], ModbusValue(0, type="float32"), Quality.NOT_A_NUMBER),
        ([0xFF80, 0], ModbusValue(0, type="float32"), Quality.OVERLOAD),
    ],
)
def test_numbers_that_are_no_value(registers: list[int], value: ModbusValue, quality: Quality) -> None:
    assert register_value(registers, value) == (None, quality)


@given(
    st.sampled_from(sorted(TYPES)),
    st.sampled_from(["high-first", "low-first"]),
    st.sampled_from(["high-first", "low-first"]),
    st.data(),
)
def test_whatever_struct_packs_comes_back(kind: str, words: str, order: str, data: st.DataObject) -> None:
    packed = data.draw(st.binary(min_size=2 * REGISTERS[kind], max_size=2 * REGISTERS[kind]))
    (number,) = struct.unpack(f">{TYPES[kind]}", packed)
    registers = [int.from_bytes(packed[i : i + 2], "big" if order == "high-first" else "little")
                 for i in range(0, len(packed), 2)]  # fmt: skip
    if words == "low-first":
        registers.reverse()
    value, quality = register_value(registers, ModbusValue(0, type=kind, words=words, bytes=order))  # type: ignore[arg-type] # drawn from the literals
    if quality is Quality.GOOD:
        assert value == float(number)
    else:
        assert number - number != 0, "only infinity and not-a-number have no value"


def test_registers_that_touch_are_fetched_together_and_no_others() -> None:
    values = [
        ModbusValue(10, type="float32"),
        ModbusValue(2),
        ModbusValue(12),
        ModbusValue(14),
        ModbusValue(13, table="input"),
    ]
    blocks = blocks_for([VOLTS] * 5, values)
    assert [(b.function, b.register, b.size) for b in blocks] == [
        (3, 2, 1),
        (3, 10, 3),
        (3, 14, 1),
        (4, 13, 1),
    ]
    assert [[(m.channel, m.first) for m in b.members] for b in blocks] == [
        [(1, 0)],
        [(0, 0), (2, 2)],
        [(3, 0)],
        [(4, 0)],
    ]


def test_a_block_is_no_longer_than_a_request_may_be() -> None:
    values = [ModbusValue(n * 4, type="float64") for n in range(60)]
    blocks = blocks_for([VOLTS] * 60, values)
    assert max(b.size for b in blocks) <= MOST_REGISTERS
    assert sum(b.size for b in blocks) == 240


def test_two_channels_may_share_a_register() -> None:
    (block,) = blocks_for([VOLTS] * 2, [ModbusValue(5), ModbusValue(5)])
    assert (block.size, [m.channel for m in block.members]) == (1, [0, 1])


@pytest.mark.parametrize(
    ("baud", "gap_ms"),
    [(9600, 4.0104), (19_200, 2.0052), (38_400, 1.75), (115_200, 1.75)],
)
def test_silent_gap(baud: int, gap_ms: float) -> None:
    """W13: 3.5 characters of 11 bits; fixed above 19200 bit/s."""
    assert silent_gap_s(baud) * 1000 == pytest.approx(gap_ms, abs=1e-4)


@pytest.mark.parametrize(
    ("settings", "complaint"),
    [
        ("[[settings.value]]\nregister = 65536", "from 0 to 65535"),
        ("[[settings.value]]\nregister = 65535\ntype = 'float32'", "from 0 to 65534"),
        ("[[settings.value]]\nregister = 1\ntype = 'float16'", "value 1.type can't be 'float16'; accepted: "),
        ("[[settings.value]]\nregister = 1\nwords = 'big'", "value 1.words can't be 'big'; accepted: "),
        ("[settings]\nunit = 300\nvalue = [{register = 1}]", "unit = 300"),
        ("[settings]\ninterval_s = -1\nvalue = [{register = 1}]", "interval_s = -1"),
        ("[settings]\ntimeout_s = 0\nvalue = [{register = 1}]", "timeout_s = 0"),
        ("[settings]\nvalue = []", "there are 0 and 1"),
        (
            "[settings]\nslave = 1\nvalue = [{register = 1}]",
            "there is no key slave; accepted: value, unit, interval_s",
        ),
    ],
)
def test_cards_that_make_no_sense_are_refused(settings: str, complaint: str) -> None:
    text = f'name = "t"\ntitle = "t"\nprotocol = "modbus"\n{settings}\n[[channel]]\nquantity = "ac_voltage"'
    with pytest.raises(CardError, match=complaint):
        DRIVER.check(parse_instrument_card(text, origin="t.toml"))
