"""The job screen through Textual's pilot; the job file is a real one."""

from __future__ import annotations

import asyncio
import shutil
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from pathlib import Path

import pytest
from textual.binding import Binding
from textual.pilot import Pilot
from textual.widgets import Input

from daq.cards.instrument import InstrumentCard
from daq.catalog import instrument_card, machine_card
from daq.job.job import Job
from daq.model.clock import ManualClock
from daq.registry import load_registry
from tests.tui.snapshots import assert_same_screen, screen_text
from tests.tui.test_job_view import weak
from tui.dashboard.app import Dashboard
from tui.dashboard.ask_screen import AskScreen
from tui.dashboard.job_screen import JobScreen

SMALL, MIDDLE, LARGE = (80, 24), (120, 40), (200, 60)
SAMPLES = Path(__file__).parents[2] / "recordings"


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())


@asynccontextmanager
async def shown(
    job: Job,
    size: tuple[int, int] = SMALL,
    *,
    plain: bool = False,
    instruments: Sequence[tuple[InstrumentCard, str]] = (),
) -> AsyncIterator[tuple[Dashboard, Pilot[None]]]:
    app = Dashboard(JobScreen(job, instruments), plain=plain, light=False)
    async with app.run_test(size=size) as pilot:
        screen = app.first
        while not screen.ready:
            await pilot.pause(0.01)
        await pilot.pause()
        yield app, pilot


async def press(pilot: Pilot[None], *keys: str) -> None:
    await pilot.press(*keys)
    await pilot.pause()


def reopened(job: Job) -> Job:
    """The job as somebody finds it who opens its file now."""
    return Job.open(job.path, ManualClock())


def front(app: Dashboard) -> object:
    """The screen in front (a function, since mypy takes a property for constant)."""
    return app.screen


@pytest.mark.parametrize("size", [SMALL, MIDDLE], ids=["80x24", "120x40"])
async def test_a_new_job_looks_as_it_did(job: Job, size: tuple[int, int]) -> None:
    async with shown(job, size) as (app, _):
        assert_same_screen(app, f"job-new-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", [SMALL, MIDDLE], ids=["80x24", "120x40"])
async def test_a_job_with_findings_looks_as_it_did(job: Job, size: tuple[int, int]) -> None:
    async with shown(weak(job), size) as (app, pilot):
        if size == SMALL:
            await press(pilot, "t")
        assert_same_screen(app, f"job-findings-{size[0]}x{size[1]}")


@pytest.mark.parametrize("size", [SMALL, MIDDLE], ids=["80x24", "120x40"])
async def test_what_is_asked_for_looks_as_it_did(job: Job, size: tuple[int, int]) -> None:
    async with shown(job, size) as (app, pilot):
        await press(pilot, "enter")
        assert_same_screen(app, f"job-asks-{size[0]}x{size[1]}")


async def test_names_stay_whole_in_the_narrow_list_whatever_the_states(job: Job) -> None:
    job.type_reading("battery_rest", "rest_voltage", "12.61 A")
    job.skip("wiggle", "plug out of reach")
    async with shown(job) as (app, _):
        rows = [row[:30] for row in screen_text(app).splitlines()]
        assert any("? Battery at rest     void" in row for row in rows), rows
        assert any("– Wiggle test         skip" in row for row in rows), rows
        for title in (
            "What the loads draw",
            "Winding resistance",
            "Winding to ground",
            "Regulator-rectifier",
        ):
            assert sum(title in row for row in rows) == 1, rows
    async with shown(job, MIDDLE) as (app, _):
        assert "? Battery at rest     not judged" in screen_text(app)


async def test_a_large_screen_shows_test_and_findings_together(job: Job) -> None:
    async with shown(weak(job), LARGE) as (app, _):
        text = screen_text(app)
    for words in (
        "Readings",
        "Leading faults",
        "Can it carry its loads?",
        "Verdicts so far",
        "4 of 9 tests done",
    ):
        assert words in text


async def test_plain_is_ascii_only(job: Job) -> None:
    async with shown(weak(job), MIDDLE, plain=True) as (app, pilot):
        assert screen_text(app).isascii()
        assert "+ Battery at rest" in screen_text(app)
        assert "x Charging" in screen_text(app)
        await press(pilot, "enter")
        text = "\n".join(row for row in screen_text(app).splitlines() if "such as" not in row)
        assert text.isascii()


async def test_enter_a_reading_and_enter_leads_to_the_next_test(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await press(pilot, "enter")
        assert isinstance(front(app), AskScreen)
        assert "! A battery on charge gives off hydrogen" in screen_text(app)
        await press(pilot, *"12.61", "enter")
        assert isinstance(front(app), JobScreen)
        text = screen_text(app)
        assert "1 of 9 tests done" in text
        assert "WHAT THE LOADS DRAW" in text
        assert "Enter, then type amps that all loads draw." in text
    (observed,) = reopened(job).status().step("battery_rest").observed
    assert observed.value == pytest.approx(12.61)


@pytest.mark.parametrize("size", [SMALL, MIDDLE], ids=["80x24", "120x40"])
async def test_what_a_test_says_lies_over_no_caution(job: Job, size: tuple[int, int]) -> None:
    shape = f"{size[0]}x{size[1]}"
    async with shown(job, size) as (app, pilot):
        await press(pilot, "enter", *"12.61", "enter")
        await pilot.pause(0.1)
        assert "Battery at rest: pass" in screen_text(app)
        assert app.told == ()
        app.tell("The run did not start.", timeout_s=60)
        await press(pilot, "enter")
        await pilot.pause(0.1)
        assert isinstance(front(app), AskScreen)
        assert app.told == ()
        assert_same_screen(app, f"job-asks-after-told-{shape}")
        assert "never crank" in screen_text(app)
        await press(pilot, "escape")
        assert "Battery at rest: pass" in screen_text(app)
        assert_same_screen(app, f"job-told-{shape}")
        await press(pilot, "down")
        assert "The battery is 68 to" not in screen_text(app)


async def test_what_is_no_reading_stays_to_be_mended(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await press(pilot, "enter", *"about 12", "enter")
        assert isinstance(front(app), AskScreen)
        assert "'about 12' is no reading" in screen_text(app)
        assert app.screen.query_one(Input).value == "about 12"
        await press(pilot, "enter")
        assert isinstance(front(app), AskScreen)
        await press(pilot, "escape")
        assert isinstance(front(app), JobScreen)
    assert not reopened(job).status().step("battery_rest").observed


async def test_letters_are_typed_where_something_is_asked_for(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await press(pilot, "n", *"qpl?", "enter")
        assert isinstance(front(app), JobScreen)
        assert not app.plain
    assert [note.text for note in reopened(job).status().state.notes] == ["qpl?"]


async def test_a_test_is_left_out_with_a_reason_only(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await press(pilot, "down", "down", "s", "enter")
        assert isinstance(front(app), AskScreen)
        await press(pilot, *"no tach", "enter")
        assert "– Charging            skip" in screen_text(app)
        assert "BATTERY AT REST" in screen_text(app)
    assert reopened(job).status().step("charging").reason == "no tach"


async def test_the_arrows_go_through_the_tests_and_enter_does_the_chosen_one(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await press(pilot, "up")
        assert "BATTERY AT REST" in screen_text(app)
        await press(pilot, "down", "down", "down")
        assert "AC OUTPUT, UNLOADED" in screen_text(app)
        await press(pilot, "enter", *"24.6 3580", "enter")
        await press(pilot, *["down"] * 20)
        assert "WIRING, CONNECTORS" in screen_text(app)
    assert reopened(job).status().step("ac_output").state == "pass"


async def test_page_down_reads_on(job: Job) -> None:
    async with shown(job) as (app, pilot):
        assert "more rows below" in screen_text(app)
        assert "Tells:" not in screen_text(app)
        await press(pilot, "pagedown", "pagedown")
        assert "Tells:" in screen_text(app)
        await press(pilot, "pageup", "pageup", "pageup")
        assert "BATTERY AT REST" in screen_text(app)


async def test_a_click_chooses_a_test(job: Job) -> None:
    async with shown(job) as (app, pilot):
        await pilot.click("#steps", offset=(6, 2))
        await pilot.pause()
        assert "CHARGING, ENGINE AT" in screen_text(app)


async def test_after_the_repair_what_failed_is_due_again(job: Job) -> None:
    weak(job)
    async with shown(job) as (app, pilot):
        await press(pilot, "e", *"new stator", "enter")
        assert "○ AC output" in screen_text(app)
    assert [each.text for each in reopened(job).status().state.repairs] == ["new stator"]


async def test_with_instruments_at_hand_enter_records_and_i_types(job: Job) -> None:
    meter = instrument_card("text-volts", load_registry())
    quantity = meter.channel[0].quantity
    slot = "output" if quantity.value == "ac_voltage" else "rest_voltage"
    step = {"output": "ac_output", "rest_voltage": "battery_rest"}[slot]
    async with shown(job, instruments=[(meter, "/dev/ttyUSB0")]) as (app, pilot):
        while f"{step}" not in [row.name for row in app.screen.view.rows if row.chosen]:  # type: ignore[attr-defined]  # it is the job screen
            await press(pilot, "down")
        assert "▶ Enter records " in screen_text(app)
        await press(pilot, "enter")
        assert isinstance(front(app), AskScreen)
        assert "Enter when all is set." in screen_text(app)
        await press(pilot, "escape", "i")
        assert isinstance(front(app), AskScreen)
        assert "Type it, then Enter." in screen_text(app)


async def settled(app: Dashboard, pilot: Pilot[None]) -> None:
    """Wait until a recording was worked out."""
    for _ in range(2000):
        await pilot.pause(0.02)
        if "Working out" not in screen_text(app):
            return
    raise AssertionError(screen_text(app))


async def test_a_recording_that_was_never_taken_in_is_taken_in(job: Job) -> None:
    shutil.copy(SAMPLES / "weak-magnets-hunting.jsonl", job.path.with_name("cart-ac_output-output.jsonl"))
    async with shown(job) as (app, pilot):
        assert "Enter takes in cart-ac_output-output.jsonl" in screen_text(app)
        await press(pilot, "enter")
        await settled(app, pilot)
        assert "✗ AC output" in screen_text(app)
        assert "takes in" not in screen_text(app)
    (observed,) = reopened(job).status().step("ac_output").observed
    assert observed.rated is not None


async def test_what_is_no_recording_is_told_once_and_passed_over(job: Job) -> None:
    job.path.with_name("cart-ac_output-output.jsonl").write_text("nothing of the kind\n")
    async with shown(job) as (app, pilot):
        await press(pilot, "enter")
        await settled(app, pilot)
        await asyncio.sleep(0)
        assert "Enter, then type battery volts at rest." in screen_text(app)
    assert not reopened(job).status().step("ac_output").observed


@pytest.mark.parametrize(
    "name",
    ["other-ac_output-output.jsonl", "cart-ac_output.jsonl", "cart-loads-output.jsonl", "cart-x-y.jsonl"],
)
async def test_other_files_beside_the_job_are_none_of_its_business(job: Job, name: str) -> None:
    shutil.copy(SAMPLES / "healthy-sweep.jsonl", job.path.with_name(name))
    async with shown(job) as (app, _):
        assert "takes in" not in screen_text(app)


async def test_a_job_file_that_goes_away_ends_the_screen_with_its_sentence(job: Job) -> None:
    async with shown(job) as (app, pilot):
        job.path.unlink()
        await press(pilot, "n", *"gone?", "enter")
        assert isinstance(front(app), AskScreen) or app.failure is not None


@pytest.mark.parametrize("screen", [JobScreen, AskScreen])
def test_every_key_has_a_label_and_a_tooltip(screen: type[JobScreen | AskScreen]) -> None:
    for binding in screen.BINDINGS:
        assert isinstance(binding, Binding)
        assert binding.id
        assert binding.description
        assert binding.tooltip


async def test_w_writes_the_report_beside_the_job(job: Job) -> None:
    async with shown(weak(job)) as (app, pilot):
        await press(pilot, "w")
        page = job.path.with_suffix(".html")
        for _ in range(600):
            await pilot.pause(0.05)
            if "cart.html" in screen_text(app):
                break
        assert "✓ " in screen_text(app).partition("Report")[2].splitlines()[1]
        assert "shorted turns" in await asyncio.to_thread(page.read_text)
