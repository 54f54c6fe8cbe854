"""The modbus driver against pymodbus's own server, in a process of its own: RTU over a serial cable, and TCP."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import threading
from collections.abc import Iterator
from itertools import pairwise

import msgspec
import pytest

from daq.driver_api import (
    Instrument,
    InstrumentCard,
    Quality,
    Reading,
    SystemClock,
    TransportError,
    TransportReason,
    parse_instrument_card,
)
from drivers.builtin_cards import builtin_cards
from drivers.modbus import DRIVER


@pytest.fixture(params=["rtu", "tcp"])
def server(request: pytest.FixtureRequest) -> Iterator[tuple[subprocess.Popen[str], str]]:
    command = [sys.executable, "-m", "tests.drivers.modbus.server_process", request.param]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        try:
            yield process, address
        finally:
            process.kill()


def card_of(
    unit: int, *values: str, quantity: str = "ac_voltage", more: str = "", timeout_s: float = 3.0
) -> InstrumentCard:
    tables = "".join(f"[[settings.value]]\n{value}\n" for value in values)
    channels = f'[[channel]]\nquantity = "{quantity}"\n{more}\n' * len(values)
    return parse_instrument_card(
        f'name = "t"\ntitle = "t"\nprotocol = "modbus"\n'
        f"[settings]\nunit = {unit}\ninterval_s = 0.01\ntimeout_s = {timeout_s}\n{tables}\n{channels}",
        origin="t.toml",
    )


async def read(card: InstrumentCard, address: str, count: int) -> tuple[list[Reading], list[str], int]:
    """Readings until there are ``count``, the remarks, and how many answers were missed."""
    DRIVER.check(card)
    async with DRIVER.connect(card, address, SystemClock()) as instrument:
        readings: list[Reading] = []
        async with asyncio.timeout(30):
            while len(readings) < count:
                readings += await instrument.receive()
        return readings, instrument.status.remarks, instrument.status.timeouts


async def _receive_for_ever(instrument: Instrument) -> None:
    while True:
        await instrument.receive()


async def test_the_example_card(server: tuple[subprocess.Popen[str], str]) -> None:
    card = builtin_cards("modbus-meter")[0]
    card = msgspec.structs.replace(
        card, settings={**card.settings, "timeout_s": 3.0}
    )  # for a machine that stops
    readings, remarks, timeouts = await read(card, server[1], 8)
    assert [(r.channel, r.quality) for r in readings] == [(0, Quality.GOOD), (1, Quality.GOOD)] * 4
    assert [r.value for r in readings[:2]] == [pytest.approx(19.62, rel=1e-7), 180.0]
    assert readings[0].t_ns == readings[1].t_ns, "registers that touch are of one moment"
    spacings_s = sorted((after.t_ns - before.t_ns) / 1e9 for before, after in pairwise(readings[::2]))
    assert 0.15 < spacings_s[1] < 0.5, "the card says 0.2 s"
    assert (remarks, timeouts) == ([], 0)


async def test_types_scale_and_specials(server: tuple[subprocess.Popen[str], str]) -> None:
    card = card_of(
        1,
        "register = 10\ntype = 'int16'",
        "register = 20\ntype = 'uint32'",
        "register = 30\ntype = 'float32'\ntable = 'input'",
        "register = 32\ntype = 'float32'\ntable = 'input'",
        more="scale = 0.01",
    )
    readings, _, _ = await read(card, server[1], 4)
    by_channel = sorted((r.channel, r.value, r.quality) for r in readings[:4])
    assert by_channel == [
        (0, pytest.approx(-12.34), Quality.GOOD),
        (1, pytest.approx(3580.0), Quality.GOOD),
        (2, None, Quality.NOT_A_NUMBER),
        (3, None, Quality.OVERLOAD),
    ]


async def test_registers_of_the_published_example(server: tuple[subprocess.Popen[str], str]) -> None:
    """W11."""
    card = card_of(17, "register = 0x6B", "register = 0x6C", "register = 0x6D")
    readings, _, _ = await read(card, server[1], 3)
    assert [r.value for r in readings[:3]] == [0xAE41, 0x5652, 0x4340]


async def test_a_register_that_is_not_there_is_told_and_the_others_go_on(
    server: tuple[subprocess.Popen[str], str],
) -> None:
    card = card_of(1, "register = 500", "register = 10\ntype = 'int16'")
    readings, remarks, timeouts = await read(card, server[1], 6)
    assert {(r.channel, r.value, r.quality) for r in readings} == {
        (0, None, Quality.NOT_A_NUMBER),
        (1, -1234.0, Quality.GOOD),
    }
    assert timeouts == 0
    assert remarks == [
        "Unit 1 refused holding register 500 with exception 2: the device has no such register: "
        "check register and type in the card, counted from 0."
    ]


async def test_the_link_breaks_and_nothing_is_left_behind(
    server: tuple[subprocess.Popen[str], str],
) -> None:
    process, address = server
    before = {thread.name for thread in threading.enumerate()}
    instrument = DRIVER.connect(builtin_cards("modbus-meter")[0], address, SystemClock())
    await instrument.open()
    async with asyncio.timeout(30):
        assert await instrument.receive()
        process.kill()
        with pytest.raises(TransportError) as lost:
            await _receive_for_ever(instrument)
    assert lost.value.reason is TransportReason.LINK_LOST
    await instrument.aclose()
    await instrument.aclose()
    assert {thread.name for thread in threading.enumerate()} <= before


async def test_a_unit_that_is_not_there_is_awaited_in_vain(
    server: tuple[subprocess.Popen[str], str],
) -> None:
    clock = SystemClock()
    async with DRIVER.connect(card_of(9, "register = 0", timeout_s=0.3), server[1], clock) as instrument:
        begun_ns = clock.now_ns()
        waiting = asyncio.create_task(instrument.receive())
        async with asyncio.timeout(30):
            while instrument.status.timeouts < 2:  # noqa: ASYNC110 - it sets no event
                await asyncio.sleep(0.01)
        assert clock.now_ns() - begun_ns >= 850_000_000, "0.3 s of waiting, 0.3 s of quiet, and again"
        assert not waiting.done()
        waiting.cancel()
        await asyncio.wait([waiting])
        assert instrument.status.awaited == "an answer from unit 9 for holding register 0"
        assert instrument.status.bytes_received == 0
