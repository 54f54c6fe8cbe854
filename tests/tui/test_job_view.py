"""What the job screen says, worked out without a screen."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.catalog import machine_card
from daq.job.job import Job
from daq.model.clock import ManualClock
from daq.model.quantity import Quantity
from tui.jobtext import STATE_WORDS
from tui.view.job import SHORTEST_WORDS, STATE_SHAPES, STATE_TONES, job_view
from tui.view.job_next import next_thing, typing_of
from tui.view.job_state import Section

CHARGING = (
    ("governed_speed", "3590"),
    ("voltage_work", "12.20"),
    ("current_work", "-2.80"),
    ("current_idle", "-5.60"),
)


@pytest.fixture
def job(tmp_path: Path) -> Job:
    return Job.create(tmp_path / "cart.jsonl", machine_card("nursery-sprayer"), ManualClock())


def weak(job: Job) -> Job:
    """A job far enough on that faults are named."""
    job.type_reading("battery_rest", "rest_voltage", "12.61 V")
    job.type_reading("loads", "load_current", "6.10")
    job.type_reading("loads", "loaded_voltage", "12.35")
    for slot, text in CHARGING:
        job.type_reading("charging", slot, text)
    job.type_reading("ac_output", "output", "16.6 3600")
    return job


def words(sections: tuple[Section, ...]) -> str:
    return "\n".join(
        line for each in sections for line in (each.title, *(f"{s.mark} {s.text}" for s in each.sentences))
    )


def test_every_state_has_a_shape_a_tone_and_a_word_of_its_own() -> None:
    shown = set(STATE_WORDS) - {"does_not_apply"}
    assert set(STATE_SHAPES) == set(STATE_TONES) == shown
    assert len({STATE_WORDS[state] for state in shown}) == len(shown)
    assert STATE_SHAPES["pass"] != STATE_SHAPES["fail"]
    assert set(SHORTEST_WORDS) == shown
    assert len(set(SHORTEST_WORDS.values())) == len(shown)
    assert all(len(word) <= 4 for word in SHORTEST_WORDS.values())


def test_a_new_job_begins_with_the_first_test(job: Job) -> None:
    view = job_view(job.status(), ())
    assert view.status == "0 of 9 tests done"
    assert [row.title for row in view.rows][:3] == ["Battery at rest", "What the loads draw", "Charging"]
    assert [row.name for row in view.rows if row.next] == ["battery_rest"]
    assert [row.words for row in view.rows][:2] == ["next", "open"]
    assert [row.name for row in view.rows if row.chosen] == ["battery_rest"]
    assert view.next.kind == "type"
    assert view.next.slots == ("rest_voltage",)
    assert "Nothing was tested yet." in words(view.found)
    assert view.skippable


def test_the_test_is_told_in_full(job: Job) -> None:
    status = job.status()
    view = job_view(status, (), "charging")
    told = words(view.step)
    step = status.sheet.step_named("charging")
    assert step is not None
    for sentence in (*step.setup, *status.sheet.cautions_of(step), step.purpose, step.acceptance, step.tells):
        assert sentence in told
    for slot in step.slot:
        assert slot.title in told
    assert "▶ engine speed with the throttle at its stop for the test" in told
    assert "○ amps into the battery at test speed" in told


def test_where_leads_and_dial_go_stands_under_the_reading_to_be_taken(job: Job) -> None:
    told = words(job_view(job.status(), (), "battery_rest").step)
    reading, dial, leads = (
        told.index(text)
        for text in ("▶ battery volts at rest", "Turn the dial to DC volts.", "Leads: red on")
    )
    assert reading < dial < leads < told.index("temperature of the battery")


def test_what_was_read_stands_beside_its_name(job: Job) -> None:
    job.type_reading("loads", "load_current", "6.10")
    view = job_view(job.status(), (), "loads")
    told = words(view.step)
    assert "✓ amps that all loads draw: 6.10 ±" in told
    assert view.next.slots == ("loaded_voltage",)
    assert next(row for row in view.rows if row.name == "loads").words == "begun"


def test_faults_carry_what_speaks_for_and_against_them_and_the_remedy(job: Job) -> None:
    status = weak(job).status()
    view = job_view(status, ())
    leading = status.diagnosis.leading
    assert leading is not None
    told = words(view.found)
    assert f"1 {leading.title}" in told
    assert all(f"+ {reason}" in told for reason in leading.supports)
    assert all(f"- {reason}" in told for reason in leading.contradicts)
    assert f"▶ {leading.remedy}" in told
    assert told.index(leading.title) < told.index("Can it carry its loads?") < told.index("Verdicts so far")
    assert "At work speed it loses 2.8" in told
    assert "✗ AC output, unloaded, at rated test speed: FAIL" in told
    assert view.answer[0].role == "bad"
    assert view.answer[0].mark == "✗"
    assert "does not carry its loads" in view.answer[0].text


def test_what_speaks_against_a_fault_is_shown(job: Job) -> None:
    weak(job)
    for slot, text in (
        ("lead_resistance", "0.02"),
        ("winding_resistance", "0.27"),
        ("winding_temperature", "20"),
    ):
        job.type_reading("winding_resistance", slot, text)
    status = job.status()
    (shorted,) = (fault for fault in status.diagnosis.faults if fault.name == "shorted_turns")
    assert shorted.contradicts, "a good winding speaks against shorted turns"
    told = words(job_view(status, ()).found)
    assert all(f"- {reason}" in told for reason in shorted.contradicts)
    assert told.index("weak magnets") < told.index("Less likely") < told.index(shorted.contradicts[0])


def test_a_failed_test_says_its_limit_and_its_verdict(job: Job) -> None:
    told = words(job_view(weak(job).status(), (), "ac_output").step)
    assert "FAIL" in told
    assert "Limit:" in told
    assert "20" in told


@pytest.mark.parametrize(
    ("readable", "kind", "slots"),
    [
        ((), "type", ("governed_speed",)),
        ({Quantity.RESISTANCE}, "type", ("governed_speed",)),
        ({Quantity.DC_VOLTAGE, Quantity.ROTATIONAL_SPEED}, "record", ("voltage_idle", "voltage_work")),
    ],
)
def test_enter_records_what_the_instruments_at_hand_can_read(
    job: Job, readable: frozenset[Quantity], kind: str, slots: tuple[str, ...]
) -> None:
    status = job.status()
    following = next_thing(status, status.step("charging"), readable)
    assert (following.kind, following.slots) == (kind, slots)
    told = words(following.ready)
    assert "! Keep hands, sleeves, hair, leads and tools clear" in told
    assert "Leads, dial, engine" in told


def test_an_engine_that_first_idles_is_told_so(job: Job) -> None:
    status = job.status()
    following = next_thing(status, status.step("charging"), {Quantity.DC_VOLTAGE})
    assert "Engine at idle. Then: Engine at its test speed." in words(following.ready)


def test_wiggling_is_counted_by_hand_where_it_can_not_be_recorded(job: Job) -> None:
    status = job.status()
    assert typing_of(status, status.step("wiggle")).slots == ("wiggle_count",)
    assert next_thing(status, status.step("wiggle"), {Quantity.RESISTANCE}).slots == ("wiggle_watch",)


def test_volts_with_speed_are_typed_as_a_pair(job: Job) -> None:
    status = job.status()
    following = typing_of(status, status.step("ac_output"))
    assert following.example == "19.6 3580"
    assert "volts and rpm" in following.title


def test_a_recording_that_was_not_taken_in_comes_first(job: Job) -> None:
    status = job.status()
    following = next_thing(status, status.step("charging"), (), "cart-charging-voltage_work.jsonl")
    assert following.kind == "take"
    assert "cart-charging-voltage_work.jsonl" in following.sentence


def finished(job: Job) -> Job:
    """All tests done or left out."""
    weak(job)
    for each in job.status().steps:
        if each.open and each.step.slot:
            job.skip(each.step.name, "not today")
    return job


def test_after_the_tests_the_repair_is_asked_for(job: Job) -> None:
    status = finished(job).status()
    view = job_view(status, {Quantity.DC_VOLTAGE})
    assert view.next.kind == "repair"
    assert status.diagnosis.leading is not None
    assert status.diagnosis.leading.remedy in words(view.next.ready)
    job.repaired("stator replaced")
    again = job_view(job.status(), ())
    assert again.next.kind == "type"
    assert {row.name: row.words for row in again.rows}["charging"] in {"open", "next"}
    assert "stator replaced" in words(again.found)


def test_when_all_is_done_enter_writes_the_report(job: Job) -> None:
    for each in job.status().steps:
        if each.state != "does_not_apply" and each.step.slot:
            job.skip(each.step.name, "not today")
    view = job_view(job.status(), ())
    assert view.next.kind == "report"
    assert view.finished
    assert not view.skippable
    assert "Skipped: not today" in words(view.step)


def test_a_skipped_test_may_still_be_done(job: Job) -> None:
    job.skip("wiggle", "plug out of reach")
    view = job_view(job.status(), (), "wiggle")
    assert view.next.kind == "type"
    assert next(row for row in view.rows if row.name == "wiggle").words == "skipped"


def test_a_job_file_that_was_tampered_with_is_told(job: Job) -> None:
    with job.path.open("a") as file:
        file.write("no line of a job\n")
    view = job_view(Job.open(job.path, ManualClock()).status(), ())
    assert "About the job file" in [each.title for each in view.found]


def test_nothing_of_a_files_own_reaches_the_screen_as_a_sequence(tmp_path: Path) -> None:
    import msgspec

    card = msgspec.structs.replace(machine_card("nursery-sprayer"), title="cart\x1b]0;owned\x07\u202e\n")
    job = Job.create(tmp_path / "cart.jsonl", card, ManualClock())
    job.note("flat\x1b[2J twice")
    job.skip("wiggle", "no\x9b31m reach")
    view = job_view(job.status(), (), "wiggle")
    everything = view.heading + words(view.step) + words(view.found) + words(view.next.ready)
    assert "\x1b" not in everything
    assert "\x9b" not in everything
    assert "\u202e" not in everything


def test_a_reason_is_given_once(job: Job) -> None:
    job.type_reading("battery_rest", "rest_voltage", "612")
    told = [
        each.text for section in job_view(job.status(), (), "battery_rest").step for each in section.sentences
    ]
    assert sum("at a 12 V battery can't be true" in text for text in told) == 1
    assert not any("rest_voltage" in text for text in told), "a name of ours"
