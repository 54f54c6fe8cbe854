"""Pages on recordings that are not all as one would like: no card, no speed, in the other order, three of them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from msgspec.structs import replace

from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.entries import UNKNOWN_START, ChannelEntry, ClockEntry, Line, MarkEntry
from daq.report.content import Page
from daq.report.from_runs import runs_page
from daq.run.recorded import RecordedRun, open_recording
from tests.daq.report.conftest import NOON
from tests.daq.report.recorded import CART, volts_and_speed, written

_BATTERY = ChannelEntry(
    channel=0,
    quantity=Quantity.DC_VOLTAGE,
    unit="V",
    instrument="battery-meter",
    address="port 0",
    card={},
    card_channel=0,
)
Make = Callable[..., RecordedRun]


def battery_alone() -> list[Line]:
    """Ten seconds of battery volts, and nothing else."""
    return [_BATTERY, *(Reading(0, n * 500_000_000, 12.61) for n in range(20))]


@pytest.fixture
def run(tmp_path: Path) -> Make:
    """Makes a run from lines, through a real file."""

    def make(name: str, lines: Sequence[Line], **session: object) -> RecordedRun:
        return open_recording(written(tmp_path / f"{name}.jsonl", lines, **session))  # type: ignore[arg-type]  # as written() takes them

    return make


def _page(*runs: RecordedRun) -> Page:
    return runs_page(runs, NOON)


def test_a_run_without_a_machine_card_says_what_is_not_known(run: Make) -> None:
    page = _page(run("bare", volts_and_speed(24.0), machine=None, note="covers off"))
    assert page.machine_title == "Machine not named"
    assert page.machine == ()
    assert page.open_points == (
        "The recording names no machine card: neither rated speed nor limit are known.",
    )
    assert page.badge.tone != "good"
    (test,) = page.tests
    assert test.title == "AC output, unloaded (bare.jsonl)"
    assert test.rows == ()
    assert test.notes == ("covers off",)


def test_a_run_without_speed_is_shown_as_it_came(run: Make) -> None:
    page = _page(run("rest", battery_alone()))
    assert page.headline == "No AC output at rated speed can be stated from this recording."
    (test,) = page.tests
    assert test.title == "Recording (rest.jsonl)"
    assert (test.rows, test.budget, test.purpose, test.acceptance) == ((), (), "", "")
    assert test.taken == ("Recorded 2026-04-02 09:30 UTC, 10 s long.",)
    assert [figure.name for figure in test.figures] == ["run-1-readings"]
    assert page.sentences == tuple(test.reasons[:2])
    assert page.recordings[0].used_for == "DC voltage"


def test_a_recording_without_a_reading_makes_a_page_too(run: Make) -> None:
    page = _page(run("empty", []))
    (test,) = page.tests
    assert test.figures == ()
    assert page.instruments == ()
    assert page.recordings[0].used_for == "no channels"


def test_what_each_card_says_of_its_instrument_is_told(run: Make) -> None:
    meter, tach = _page(run("carded", volts_and_speed(24.0))).instruments
    assert meter.accuracy == "± 0.5 % ± 3 counts of 0.01 V; averages over 0.4 s"
    assert tach.accuracy == "not stated: the ± holds no more than its last digit"
    bare, _ = _page(run("uncarded", volts_and_speed(24.0, carded=False))).instruments
    assert bare.accuracy == tach.accuracy


def test_a_machine_without_a_limit_has_its_output_told_and_no_limit(run: Make) -> None:
    page = _page(run("no-limit", volts_and_speed(24.0), machine=replace(CART, minimum_ac_voltage_v=None)))
    assert page.headline == "The AC output is known, but no limit to hold it against."
    assert page.sentences == ("24.00 ± 0.14 V at least, at 3600 rpm, unloaded.",)
    (test,) = page.tests
    assert re.fullmatch(r"24\.00 ± 0\.14 V at least \(k = [12]\.\d\d\)", test.rows[0].reading)
    assert [(part.name, part.amount) for part in test.budget if part.amount == "unknown"] == [
        ("the tach's own error", "unknown")
    ]
    assert next(part.amount for part in test.budget if part.name.startswith("± for 95 %")).endswith(
        "at least"
    )
    assert "at best" in test.figures[0].description
    assert "which is a lower bound" in test.figures[0].caption
    assert page.tests[0].rows[0].limit == ""
    assert len(page.open_points) == 1
    assert page.open_points[0].startswith("minimum_ac_voltage_v")


def test_marks_stand_beside_the_run_with_their_time(run: Make) -> None:
    lines = [*volts_and_speed(24.0), MarkEntry(t_ns=31_500_000_000, text="blower cover off")]
    assert _page(run("marked", lines)).tests[0].notes == ("At 31.5 s: blower cover off",)


def test_a_run_whose_start_is_not_known_names_no_time(run: Make) -> None:
    page = _page(run("log", volts_and_speed(24.0), started_utc=UNKNOWN_START, source="import"))
    assert page.began == ""
    assert not any("Recorded" in said for said in page.tests[0].taken)
    assert any(said.endswith("V for each 1000 rpm.") for said in page.tests[0].taken)


def test_a_run_over_which_the_computer_slept_says_so_of_its_dates(run: Make) -> None:
    lines = [*volts_and_speed(24.0), ClockEntry(t_ns=60_000_000_000, utc="2026-04-02T11:01:00Z")]
    taken = _page(run("slept", lines)).tests[0].taken
    assert taken[:2] == (
        "Recorded 2026-04-02 09:30 UTC, 60 s long.",
        "From 60.0 s on, the computer's dates are 90 min later: it slept, or its clock was set.",
    )


def test_a_run_that_began_before_the_clock_was_set_is_dated_by_when_it_was(run: Make) -> None:
    lines = [*volts_and_speed(24.0), ClockEntry(t_ns=60_000_000_000, utc="2026-04-02T09:31:00Z")]
    page = _page(run("unset", lines, started_utc="1970-01-01T00:00:23Z"))
    assert page.began == "2026-04-02 09:30 UTC"
    assert page.tests[0].taken[0] == "Recorded 2026-04-02 09:30 UTC, 60 s long."
    assert "worked back" in page.tests[0].taken[1]


def test_before_and_after_a_repair_are_held_against_each_other(run: Make) -> None:
    weak, sound = run("weak", volts_and_speed(18.0)), run("sound", volts_and_speed(24.0))
    page = _page(weak, sound)
    assert page.headline == "The limit is met now; it was not before."
    assert [(each.question, each.sentence) for each in page.questions] == [
        ("Before: weak.jsonl", "18.00 ± 0.11 V at least, at 3600 rpm"),
        ("After: sound.jsonl", "24.00 ± 0.14 V at least, at 3600 rpm"),
    ]
    assert page.comparison is not None
    (change,) = page.comparison.changes
    assert (change.before, change.after, change.meaning) == (
        "18.00 ± 0.11 V at least",
        "24.00 ± 0.14 V at least",
        "significant",
    )
    assert change.change.startswith("+6.0")
    assert " at least (+33.3 %)" in change.change
    assert [figure.name for figure in page.comparison.figures] == ["both-runs", "changes"]
    back = _page(sound, weak)
    assert back.headline == "The limit is not met any more; it was before."
    assert back.comparison is not None
    assert back.comparison.changes[0].change.startswith("−6.0")


def test_two_runs_alike_are_no_more_than_chance(run: Make) -> None:
    page = _page(run("one", volts_and_speed(24.0)), run("other", volts_and_speed(24.02)))
    assert page.headline == "The limit is met now, as it was before."
    assert page.comparison is not None
    assert page.comparison.changes[0].meaning == "no more than chance"


def test_a_run_that_states_nothing_leaves_the_change_open(run: Make) -> None:
    page = _page(run("sound", volts_and_speed(24.0)), run("rest", battery_alone()))
    assert page.headline == "No AC output at rated speed can be stated from this recording."
    assert [each.sentence for each in page.questions] == [
        "24.00 ± 0.14 V at least, at 3600 rpm",
        "No output at rated speed can be stated.",
    ]
    assert page.comparison is not None
    (change,) = page.comparison.changes
    assert (change.before, change.after) == ("24.00 ± 0.14 V at least", "not stated")
    assert (change.change, change.meaning) == ("can't be told", "can't be told")
    assert page.comparison.figures == ()


def test_three_runs_are_numbered_and_each_held_against_the_first(run: Make) -> None:
    page = _page(
        *(run(name, volts_and_speed(volts)) for name, volts in (("a", 18.0), ("b", 21.0), ("c", 24.0)))
    )
    assert page.comparison is not None
    assert page.comparison.title == "The runs held against the first"
    assert [each.title for each in page.comparison.changes] == ["Run 2: b.jsonl", "Run 3: c.jsonl"]
    assert [each.change[:4] for each in page.comparison.changes] == ["+3.0", "+6.0"]
    assert [each.question for each in page.questions] == [
        "Run 1: a.jsonl",
        "Run 2: b.jsonl",
        "Run 3: c.jsonl",
    ]


def test_runs_without_a_limit_are_compared_without_one(run: Make) -> None:
    no_limit = replace(CART, minimum_ac_voltage_v=None)
    page = _page(
        run("a", volts_and_speed(18.0), machine=no_limit), run("b", volts_and_speed(24.0), machine=no_limit)
    )
    assert page.headline == "The machine card has no limit to hold it against."
    assert page.comparison is not None
    assert len(page.comparison.figures) == 2
    # "± 0.18 V at least" is said of an uncertainty; a limit would be "at least 20 V".
    drawn = [figure.drawing + figure.description for figure in page.comparison.figures]
    assert all("at least" not in re.sub(r"± [\d.]+ V at least", "", text) for text in drawn)


def test_runs_in_the_other_order_or_of_two_machines_are_doubted(run: Make) -> None:
    other = replace(CART, name="mower", title="Mower of the nursery")
    late = run("late", volts_and_speed(24.0), started_utc="2026-04-03T09:30:00Z")
    page = _page(late, run("early", volts_and_speed(24.0), machine=other))
    assert page.comparison is not None
    assert page.comparison.sentences[-2:] == (
        "Note the order: early.jsonl was recorded before late.jsonl, but was named after it.",
        "Note the machines: late.jsonl is of Sprayer cart of the nursery, early.jsonl of Mower of the nursery.",
    )
    plain = _page(late, run("later", volts_and_speed(24.0), started_utc="2026-04-04T09:30:00Z"))
    assert plain.comparison is not None
    assert not any("Note the" in said for said in plain.comparison.sentences)


def test_a_file_that_went_away_after_it_was_opened_is_told(run: Make) -> None:
    gone = run("gone", volts_and_speed(24.0))
    gone.recording.path.unlink()
    page = _page(gone)
    assert page.recordings[0].digest == "can't be read any more"
    assert page.badge.tone == "good"
