"""What the page says: the answer first, and everything that it rests on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

import daq
from daq.catalog import machine_card
from daq.job.job import Job
from daq.job.streams.stopping import STOP_CAUSES
from daq.job.summary import summarise
from daq.model.quantity import Quantity
from daq.report.cleaning import cleaned
from daq.report.content import Badge, Fact, Fault, Page, RecordingNote
from daq.report.page import html_of
from daq.verdict.change import compare_results
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import start_job
from tests.daq.report.conftest import NOON, RECORDINGS, noon, page_of
from tests.daq.report.reading import read

_HEALTHY, _WEAK = RECORDINGS / "healthy-sweep.jsonl", RECORDINGS / "weak-magnets-hunting.jsonl"


def test_a_job_answers_first(repair_page: str, whole_repair: Path) -> None:
    summary = summarise(Job.open(whole_repair / "job.jsonl", noon()).status(), NOON)
    page = read(repair_page)
    answer = page.with_class("answer")[0]
    assert summary.answer.headline in answer.words
    assert [dt.words for dt in answer.all("dt")] == [
        "Can it carry its loads?",
        "What is at fault?",
        "Is the repair proven?",
    ]
    assert page.headings() == [
        "The tests at a glance",
        "The machine",
        "Before and after the repair",
        "The tests",
        "The repeated tests, as they were before",
        "Diagnosis",
        "Can it carry its loads?",
        "Not tested",
        "Notes",
        "Instruments",
        "Cautions",
        "Method and sources",
        "Files this rests on",
    ]


def test_each_test_has_its_reading_limit_verdict_and_plot(repair_page: str, whole_repair: Path) -> None:
    summary = summarise(Job.open(whole_repair / "job.jsonl", noon()).status(), NOON)
    tests = {t.attributes["id"]: t for t in read(repair_page).with_class("test")}
    for test in summary.tests:
        shown = tests[f"test-{test.name.replace('_', '-')}"]
        for line in test.lines:
            row = next(row.words for row in shown.all("tr") if line.title in row.words)
            assert line.reading.replace("-", "−", 1).split()[0] in row
            assert line.sentence.replace(" -", " −") in row
            assert line.limit in row
    charging = [figure.words for figure in tests["test-charging"].all("figure")]
    assert len(charging) == 2
    assert any("limit: at most 14.8 V" in words for words in charging)
    output = [figure.all("h4")[0].words for figure in tests["test-ac-output"].all("figure")]
    assert output == ["Volts at rated speed, over time", "Volts against speed"]
    before = [figure.all("h4")[0].words for figure in tests["before-ac-output"].all("figure")]
    assert before == output


def test_before_and_after_stand_on_one_plot_with_the_change(repair_page: str, whole_repair: Path) -> None:
    summary = summarise(Job.open(whole_repair / "job.jsonl", noon()).status(), NOON)
    change = next(each for each in summary.changes if each.slot == "output")
    section = read(repair_page).section("Before and after the repair")
    assert "Repaired: rotor changed (2026-05-04)." in section.words
    both = next(f for f in section.all("figure") if "Volts against speed" in f.words)
    assert f"change: {change.change}, significant" in both.words
    assert {"before", "after"} <= {text.words for text in both.all("text")}
    row = next(row.words for row in section.all("tr") if change.title[1:] in row.words)
    assert change.before in row
    assert change.after in row
    assert "significant; its test passes now" in row


def test_what_was_not_tested_is_told_with_its_reason(repair_page: str) -> None:
    rows = [row.words for row in read(repair_page).section("Not tested").all("tr")]
    assert "Wiggle test skipped: plug <b>out</b> of reach & $x$" in rows
    assert any(row.startswith("What the loads draw not done") for row in rows)


def test_diagnosis_budget_instruments_cautions_and_method_are_there(
    repair_page: str, whole_repair: Path
) -> None:
    summary = summarise(Job.open(whole_repair / "job.jsonl", noon()).status(), NOON)
    page = read(repair_page)
    for caution in summary.cautions:
        assert caution.replace(" -", " −") in page.section("Cautions").words
    for line in (*summary.method, *summary.sources):
        assert line in page.section("Method and sources").words
    for instrument in summary.instruments:
        assert instrument.accuracy in page.section("Instruments").words
    budget = page.section("Can it carry its loads?")
    assert summary.budget[0] in budget.words
    assert "the alternator gives" in budget.all("svg")[0].words
    assert "loads draw: 6.2 A" in budget.all("svg")[0].words


def test_names_from_outside_come_out_as_text(tmp_path: Path) -> None:
    evil = "<script>alert('x')</script> & \"$\\frac{a}{b}$\""
    card = machine_card("nursery-sprayer")
    table = msgspec.to_builtins(card)
    table["title"] = table["load"][0]["name"] = table["sources"]["rated_speed_rpm"] = evil
    job = Job.create(tmp_path / "a<b>&.jsonl", msgspec.convert(table, type(card)), noon(), note=evil)
    job.note(evil)
    job.type_reading("battery_rest", "rest_voltage", "12.61")
    job.skip("wiggle", evil)
    html = page_of(job.path)
    page = read(html)
    assert "<script" not in html.lower()
    assert not page.all("script")
    assert page.all("h1")[0].words == evil
    assert evil in page.section("Not tested").words
    assert evil in page.section("Notes").words
    assert evil in page.section("The machine").words
    assert "a<b>&.jsonl" in page.section("Files this rests on").words


def test_control_and_direction_characters_are_taken_out() -> None:
    badge = Badge("Pass", "good")
    name = "run\u202e\x1b[31m\x00-5.jsonl"
    page = Page(
        title="T",
        machine_title=name,
        headline="h",
        badge=badge,
        machine=(Fact(name, "-3.5 ± 0.2 V", "s\ud800"),),
    )
    page = replace(page, recordings=(RecordingNote(name, "", badge, (), ""),))
    html = html_of(page)
    html.encode("utf-8")
    assert not set(html) & {"\u202e", "\x1b", "\x00", "\ud800"}
    clean = cleaned(page)
    assert clean.machine[0].value == "\u22123.5\u00a0±\u00a00.2\u00a0V"
    assert clean.recordings[0].name == "run -5.jsonl"


@pytest.mark.parametrize(
    ("count", "listed", "told"),
    [
        (100, 100, ""),
        (101, 101, ""),
        (102, 100, "And 2 more, which are not listed here."),
        (5000, 100, "And 4900 more, which are not listed here."),
    ],
)
def test_of_a_list_without_end_a_hundred_are_listed_and_the_rest_is_counted(
    count: int, listed: int, told: str
) -> None:
    """One more is not counted: the sentence would take its place."""
    said = tuple(f"note {number} of the bench" for number in range(count))
    html = html_of(Page(title="T", machine_title="m", headline="h", badge=Badge("Pass", "good"), notes=said))
    assert [words for words in said if words in html] == list(said[:listed])
    assert ("which are not listed here" in html) == bool(told)
    assert told in html.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("text", "set_text"),
    [
        ("27.58 ± 0.13 V at 3600 rpm", "27.58\u00a0±\u00a00.13\u00a0V at 3600\u00a0rpm"),
        ("30 % idling, 4.2 s", "30\u00a0% idling, 4.2\u00a0s"),
        ("-0.02 ± 0.08 V (-1.5 %)", "\u22120.02\u00a0±\u00a00.08\u00a0V (\u22121.5\u00a0%)"),
        ("IEC 60034-4-1, 2026-01-02, run-5.jsonl", "IEC 60034-4-1, 2026-01-02, run-5.jsonl"),
        ("5 tests Ah", "5 tests Ah"),
    ],
)
def test_numbers_stay_with_their_units(text: str, set_text: str) -> None:
    assert cleaned(text) == set_text


def test_one_run_says_its_result_and_its_budget() -> None:
    page, run = read(page_of(_HEALTHY)), daq.open_recording(_HEALTHY)
    result, budget = run.result(), run.budget()
    assert result.rated_voltage_V is not None
    assert budget is not None
    answer = page.with_class("answer")[0]
    assert answer.words.startswith("✓ Pass The AC output meets its limit.")
    assert f"{result.rated_voltage_V:.2f} ± {result.expanded_uncertainty_V:.2f} V at 3600 rpm" in answer.words
    test = page.with_class("test")[0]
    for reason in result.reasons:
        assert reason in test.words
    assert f"{budget.standard_uncertainty:.4f} V" in test.words
    assert f"k = {budget.coverage_factor:.2f}" in test.words


def test_two_runs_are_compared_in_the_order_named(two_pages: str) -> None:
    change = compare_results(daq.open_recording(_WEAK).result(), daq.open_recording(_HEALTHY).result())
    assert change.change_V is not None
    page = read(two_pages)
    assert page.with_class("headline")[0].words == "The limit is met now; it was not before."
    section = page.section("Before and after")
    assert change.reasons[0] in section.words
    assert f"+{change.change_V:.2f} ± {change.expanded_uncertainty_V:.2f} V" in section.words
    at = {text.words: float(text.attributes["y"]) for text in section.all("svg")[0].all("text")}
    assert at["after"] < at["before"], "more volts stand higher"
    other_way = read(page_of(_HEALTHY, _WEAK))
    assert other_way.with_class("headline")[0].words == "The limit is not met any more; it was before."


def test_three_runs_are_held_against_the_first(tmp_path: Path) -> None:
    again = tmp_path / "again.jsonl"
    again.write_bytes(_HEALTHY.read_bytes())
    section = read(page_of(_HEALTHY, _WEAK, again)).section("The runs held against the first")
    rows = [row.words for row in section.all("tbody")[0].all("tr")]
    assert len(rows) == 2
    assert rows[0].startswith("Run 2: weak-magnets-hunting.jsonl")
    assert rows[0].endswith(" significant")
    assert rows[1].startswith("Run 3: again.jsonl")
    assert rows[1].endswith("no more than chance")


def test_a_recording_beside_a_job_stands_behind_its_tests(tmp_path: Path) -> None:
    """One that belongs to the job already is not shown a second time."""
    job = Job.create(tmp_path / "job.jsonl", machine_card("nursery-sprayer"), noon())
    job.type_reading("battery_rest", "rest_voltage", "12.61")
    job.attach_recording("ac_output", _HEALTHY)
    page = read(page_of(_WEAK, job.path, _HEALTHY))
    titles = [test.all("h3")[0].words for test in page.with_class("test")]
    assert titles == [
        "Battery at rest",
        "AC output, unloaded, at rated test speed",
        "Further recording: AC output, unloaded (weak-magnets-hunting.jsonl)",
    ]


def test_an_engine_that_stopped_is_told_with_its_usual_causes(tmp_path: Path) -> None:
    job, bench = start_job(tmp_path, noon()), BenchJob(tmp_path, "healthy", 7)
    path = bench.record(Quantity.AC_VOLTAGE, "stator", "hold", 16.0, stop_at_s=8.0)
    job.attach_recording("ac_output", path, ["output"])
    test = read(page_of(job.path)).with_class("test")[0]
    assert test.all("header")[0].words.endswith("≈ Cut short")
    heading = next(
        n for n, each in enumerate(test.children) if each.words == "The engine stopped: usual causes"
    )
    causes = test.children[heading + 1].words
    assert len(STOP_CAUSES) >= 4
    for cause in STOP_CAUSES:
        assert f"{cause.cause}: {cause.look} {cause.caution}" in causes


def test_what_speaks_against_a_fault_is_told_too() -> None:
    fault = Fault("weak magnets", True, ("few volts",), ("the winding is open",), "Change the rotor.")
    rival = Fault("open winding", False, (), ("it has ohms",), "")
    page = Page(
        "T", "M", "h", Badge("Fail", "bad"), faults=(fault, rival), next_steps=("Next: the wiggle test.",)
    )
    words = read(html_of(page)).section("Diagnosis").words
    assert words == (
        "Diagnosis Weak magnets What speaks for it few volts What speaks against it the winding is open "
        "What to do: Change the rotor. Open winding (too little speaks for it to name it) "
        "What speaks against it it has ohms Next: the wiggle test."
    )
