"""Pages on jobs of typed readings: just begun, with a fault, repaired and measured again."""

from __future__ import annotations

from pathlib import Path

import pytest

from daq.job.job import Job
from daq.report.content import Page
from daq.report.from_job import job_page
from tests.daq.job.whole_job import start_job
from tests.daq.report.conftest import NOON, noon


@pytest.fixture
def job(tmp_path: Path) -> Job:
    """A job just begun."""
    return start_job(tmp_path, noon())


def _page(job: Job) -> Page:
    return job_page(job, NOON)


def _badges(page: Page) -> list[str]:
    return [page.badge.word, *(each.badge.word for each in page.questions)]


def test_a_job_just_begun_is_open_and_names_what_comes_next(job: Job) -> None:
    page = _page(job)
    assert _badges(page) == ["Open", "Not known yet", "None named yet", "Nothing repaired"]
    assert page.next_steps == ("Next: Battery at rest. It is the next on the sheet.",)
    assert (page.tests, page.comparison, page.budget_figures) == ((), None, ())
    assert page.began == "2026-05-04 12:00 UTC"
    assert all(each.reason for each in page.not_done)


def test_a_step_that_was_skipped_or_begun_says_so_among_what_is_not_done(job: Job) -> None:
    job.skip("battery_rest", "the battery is new")
    job.type_reading("loads", "load_current", "6.2")
    reasons = {each.title: each.reason for each in _page(job).not_done}
    assert reasons["Battery at rest"] == "skipped: the battery is new"
    assert reasons["What the loads draw"].startswith("not finished: ")
    assert reasons["Winding resistance and continuity"] == "not done"


def test_an_open_winding_is_a_fault_and_not_in_order(job: Job) -> None:
    job.type_reading("winding_resistance", "lead_resistance", "0.05")
    job.type_reading("winding_resistance", "winding_resistance", "OL")
    page = _page(job)
    assert _badges(page)[0] == "Not in order"
    assert _badges(page)[2] == "A fault is named"
    (test,) = page.tests
    assert test.badge.word == "Fail"
    assert test.taken[1] == "Ohms across the stator's leads: open, typed in, 2026-05-04 12:00 UTC"


def test_readings_before_and_after_a_repair_are_held_against_each_other(job: Job) -> None:
    for rest, work, ohms in (("12.61", "-4.0", "OL"), ("12.62", "5.0", "0.30")):
        job.type_reading("battery_rest", "rest_voltage", rest)
        job.type_reading("charging", "current_work", work)
        job.type_reading("winding_resistance", "winding_resistance", ohms)
        if ohms == "OL":
            job.repaired("winding joined")
    page = _page(job)
    assert _badges(page)[3] == "Not yet"
    assert page.comparison is not None
    told = {c.before: (c.after, c.change, c.meaning) for c in page.comparison.changes}
    assert told["12.61 ± 0.12 V"] == ("12.62 ± 0.12 V", "+0.01 ± 0.17 V", "no more than chance")
    assert told["-4.0 ± 0.6 A"] == ("5.0 ± 0.6 A", "+9.0 ± 0.8 A", "significant")
    assert told["open"] == ("0.30 ± 0.06 Ω", "can't be told", "significant")
    assert len(page.comparison.changes) == 3


def test_the_plot_of_output_comes_with_the_first_amps_that_were_read(job: Job) -> None:
    job.type_reading("loads", "load_current", "6.2")
    assert _page(job).budget_figures == ()
    job.type_reading("charging", "current_work", "5.0")
    assert [figure.name for figure in _page(job).budget_figures] == ["output-against-loads"]
