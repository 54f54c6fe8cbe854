"""A job's readings recorded from the job screen: a real capture, a real socket, and what may go wrong between them."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from textual.pilot import Pilot

from daq.cards.instrument import InstrumentCard
from daq.catalog import instrument_card, machine_card
from daq.job.job import Job
from daq.model.clock import SystemClock
from daq.model.quantity import Quantity
from daq.registry import load_registry
from tests.faults.rig import counted
from tests.tui.screen_text import screen_text, shown_screen, wait_until
from tests.tui.text_meter import text_meter
from tui.dashboard.app import Dashboard
from tui.dashboard.job_screen import JobScreen
from tui.dashboard.taking_screen import TakingScreen

OPENS_NO_TERMINAL = True
RECORDING = "cart-battery_rest-rest_voltage.jsonl"


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), SystemClock())


@pytest.fixture
def meter() -> InstrumentCard:
    """A meter on DC volts that sends lines of text."""
    card = instrument_card("text-volts", load_registry())
    volts = msgspec.structs.replace(card.channel[0], quantity=Quantity.DC_VOLTAGE)
    return msgspec.structs.replace(card, name="text-dc-volts", channel=(volts,))


@pytest.fixture
def address() -> Iterator[str]:
    """A meter on the network that says 12.61 V to whoever connects."""
    with text_meter(b"DC 12.61 V") as where:
        yield where


async def recording(app: Dashboard, pilot: Pilot[None], job: Job) -> TakingScreen:
    """Go on until the reading is on the screen and some of it on the disk."""
    await pilot.press("enter")
    await wait_until(app, pilot, "Enter when all is set.")
    await pilot.press("enter")
    await wait_until(app, pilot, "● recording")
    path = job.path.with_name(RECORDING)
    for _ in range(1000):
        if counted(path, 0) > 10:
            break
        await pilot.pause(0.02)
    screen = app.screen
    assert isinstance(screen, TakingScreen)
    return screen


async def test_a_reading_is_recorded_closed_and_taken_in(
    job: Job, meter: InstrumentCard, address: str
) -> None:
    async with shown_screen(JobScreen(job, [(meter, address)])) as (app, pilot):
        await recording(app, pilot, job)
        assert "BATTERY VOLTS AT REST" in screen_text(app).upper()
        await pilot.press("q")
        await wait_until(app, pilot, "1 of 9 tests done")
        assert app.close_sessions()[0].closed
    (observed,) = job.status().step("battery_rest").observed
    assert observed.value == pytest.approx(12.61, abs=0.005)
    assert observed.readings > 5


async def test_a_capture_that_is_killed_is_told_and_what_came_is_taken_in(
    job: Job, meter: InstrumentCard, address: str
) -> None:
    async with shown_screen(JobScreen(job, [(meter, address)]), (120, 40)) as (app, pilot):
        await recording(app, pilot, job)
        os.kill(app._sessions[0]._capture._process.pid, signal.SIGKILL)
        await wait_until(app, pilot, "The part of the program that records")
        await wait_until(app, pilot, "1 of 9 tests done")
        assert isinstance(app.screen, JobScreen)
    (observed,) = job.status().step("battery_rest").observed
    assert observed.value == pytest.approx(12.61, abs=0.005)


async def test_an_instrument_that_can_not_be_opened_is_told_and_the_job_stays(
    job: Job, meter: InstrumentCard
) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        nobody = f"socket://127.0.0.1:{free.getsockname()[1]}"
    async with shown_screen(JobScreen(job, [(meter, nobody)]), (120, 40)) as (app, pilot):
        await pilot.press("enter")
        await wait_until(app, pilot, "Enter when all is set.")
        await pilot.press("enter")
        await wait_until(app, pilot, "The run did not start")
        assert isinstance(app.screen, JobScreen)
        assert "0 of 9 tests done" in screen_text(app)
        assert not app.run_going_on
        assert "takes in" not in screen_text(app)
