"""A recording made by the capture process from Bluetooth LE, through a lost link and a silence.

Real capture process, real bleak, imitation of BlueZ on a private bus; not a radio.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.capture.watch import Watch
from daq.driver_api import InstrumentStatus, Quality, Reading
from daq.recording.entries import CloseEntry, Entry, EventEntry
from drivers.gatt.driver import DRIVER
from tests.drivers.gatt.devices import COUNTER, TACH, counter, tach
from tests.drivers.gatt.rig import Rig

Lines = list[Reading | Entry]


def lines_of(path: Path) -> Lines:
    """The recording's whole lines, read without the reader under test elsewhere."""
    lines: Lines = []
    for line in path.read_bytes().split(b"\n")[:-1]:
        if line.startswith(b"["):
            reading = msgspec.json.decode(line, type=Reading)
            lines.append(msgspec.structs.replace(reading, t_ns=1000 * reading.t_ns))
        else:
            lines.append(msgspec.json.decode(line, type=Entry))
    return lines


def spec_for(path: Path, name: str, address: str, silence_s: float) -> CaptureSpec:
    card = next(card for card in DRIVER.cards() if card.name == name)
    card = msgspec.structs.replace(card, silence_s=silence_s)
    return CaptureSpec(
        path=str(path), instruments=[InstrumentSpec(msgspec.to_builtins(card), f"ble:{address}")]
    )


async def until(path: Path, condition: Callable[[Lines], bool]) -> None:
    async with asyncio.timeout(30):
        while not condition(lines_of(path)):  # noqa: ASYNC110 - another process writes the file
            await asyncio.sleep(0.05)


def events(lines: Lines, *kinds: str) -> list[EventEntry]:
    return [line for line in lines if isinstance(line, EventEntry) and line.kind in kinds]


def readings(lines: Lines, *, after: float = 0) -> list[Reading]:
    return [line for line in lines if isinstance(line, Reading) and line.t_ns > after]


async def test_a_lost_link_and_a_silence_are_gaps_with_their_reasons(bluez: Rig, tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    await bluez.device(tach(rate=50.0))
    capture = await asyncio.to_thread(CaptureProcess.start, spec_for(path, "ble-speed", TACH, 1.6))
    with capture:
        await until(path, lambda lines: len(readings(lines)) >= 20)
        await bluez.drop(TACH)
        await until(path, lambda lines: len(events(lines, "link_back")) == 1)
        back_ns = events(lines_of(path), "link_back")[0].t_ns
        await until(path, lambda lines: len(readings(lines, after=back_ns)) >= 20)
        await bluez.silence(TACH)
        await until(path, lambda lines: len(events(lines, "link_back")) == 2)
        again_ns = events(lines_of(path), "link_back")[1].t_ns
        await until(path, lambda lines: len(readings(lines, after=again_ns)) >= 20)
        capture.stop("the test has seen enough")
        await asyncio.to_thread(capture.wait, 30.0)
    assert list(capture._stderr) == [], "neither bleak nor its bus may complain when the process ends"
    check_gaps(lines_of(path))
    assert await bluez.calls("StartNotify") == 3


def check_gaps(lines: Lines) -> None:
    told = events(lines, "link_lost", "link_back", "silent", "refused")
    lost = [event for event in told if event.kind == "link_lost"]
    assert [event.kind for event in told if event.kind != "silent"] == ["link_lost", "link_back"] * 2
    assert f"Lost Shop tach ({TACH})" in lost[0].text
    assert "though it still counts as connected" in lost[1].text
    for gone, back in zip(lost, events(lines, "link_back"), strict=True):
        between = [r for r in readings(lines) if gone.t_ns <= r.t_ns < back.t_ns]
        assert all(r.quality is Quality.LOST and r.value is None for r in between), (
            "nothing is invented in a gap"
        )
    assert sum(r.quality is Quality.LOST for r in readings(lines)) == 2
    assert isinstance(lines[-1], CloseEntry)
    good = [r.value for r in readings(lines) if r.quality is Quality.GOOD]
    # The tach counts its packets from 0 on each connection, so that none may be missing within one.
    starts = [n for n, value in enumerate(good) if value == 0.0]
    assert len(starts) == 3
    for start, end in zip(starts, [*starts[1:], len(good)], strict=True):
        assert good[start:end] == [float(n) for n in range(end - start)]


def test_silence_on_the_radio_is_not_blamed_on_a_line_speed() -> None:
    card = next(card for card in DRIVER.cards() if card.name == "ble-speed")
    watch = Watch("ble-speed", f"ble:{TACH}", card, 0)
    finding = watch.check(InstrumentStatus(awaited="a packet"), 6_000_000_000)
    assert finding is not None
    assert "Check that it is switched on, that it is awake and within reach." in finding.text
    assert "baud" not in finding.text


async def test_revolutions_and_device_time_are_recorded_in_pairs(bluez: Rig, tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    await bluez.device(counter(rpm=3000.0, rate=20.0))
    capture = await asyncio.to_thread(CaptureProcess.start, spec_for(path, "ble-revolutions", COUNTER, 5.0))
    with capture:
        await until(path, lambda lines: len(readings(lines)) >= 40)
        capture.stop()
        await asyncio.to_thread(capture.wait, 30.0)
    turns = [r for r in readings(lines_of(path), after=-1) if r.channel == 0]
    times = [r for r in readings(lines_of(path), after=-1) if r.channel == 1]
    assert [r.t_ns for r in turns] == [r.t_ns for r in times]
    assert turns[-1].value is not None
    assert times[-1].value is not None
    assert 60.0 * turns[-1].value / times[-1].value == pytest.approx(3000.0, rel=0.005)
