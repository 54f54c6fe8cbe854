"""Counted words, and sentences that one of something used to spoil."""

from __future__ import annotations

import pytest

from daq.job.comparison import compare_rounds
from daq.job.status import StepStatus
from daq.job.streams.opens import Opening
from daq.job.streams.weighted import gap_words
from daq.model.counted import counted, times
from tests.daq.job.builders import observed, step_of


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (0, "0 gaps"),
        (1, "1 gap"),
        (2, "2 gaps"),
        (1.0, "1 gap"),
        (0.5, "0.5 gaps"),
        (1234567, "1234567 gaps"),
    ],
)
def test_the_noun_goes_with_the_number(count: float, words: str) -> None:
    assert counted(count, "gap") == words


def test_signs_other_plurals_and_how_often() -> None:
    assert counted(1, "opening", signed=True) == "+1 opening"
    assert counted(-1, "opening", signed=True) == "-1 opening"
    assert counted(-2, "opening", signed=True) == "-2 openings"
    assert counted(1, "row lies", "rows lie") == "1 row lies"
    assert counted(3, "row lies", "rows lie") == "3 rows lie"
    assert (times(0), times(1), times(3)) == ("0 times", "once", "3 times")


def test_one_gap_counts_for_nothing() -> None:
    assert gap_words(1, 5.2) == "1 gap of 5 s counts for nothing."
    assert gap_words(2, 9.0) == "2 gaps of 9 s in all count for nothing."


def _wiggled(openings: int, number: int) -> StepStatus:
    found = tuple(Opening(float(at), 0.3, True) for at in range(openings))
    reading = observed("wiggle_watch", 0.25, openings=found, span_s=60.0)
    return StepStatus(step_of("wiggle"), "fail", None, (reading,), (), "", number)


def test_one_opening_before_and_after() -> None:
    (change,) = compare_rounds([_wiggled(2, 1)], [_wiggled(1, 2)])
    assert (change.before, change.after, change.change) == (
        "2 openings in 60 s",
        "1 opening in 60 s",
        "-1 opening",
    )


def test_what_a_person_counted_has_no_doubt() -> None:
    def typed(count: float, number: int) -> StepStatus:
        reading = observed("wiggle_count", count, 0.0, digit=1.0)
        return StepStatus(step_of("wiggle"), "fail", None, (reading,), (), "", number)

    (change,) = compare_rounds([typed(1.0, 1)], [typed(0.0, 2)])
    assert (change.before, change.after, change.change, change.significant) == (
        "once",
        "0 times",
        "-1 opening",
        True,
    )
