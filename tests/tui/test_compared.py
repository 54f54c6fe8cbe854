"""What the compare screen says where two runs can't be compared, fell, or had other limits."""

from __future__ import annotations

import pytest

from daq.run.rows import AlignedRows
from daq.verdict.change import compare_results
from daq.verdict.result import Result
from tests.tui.builders import hunting, result, rows
from tui.view.compare import CompareView, Side, compare_view

ROWS = rows(hunting, until_s=45.0)
NOTHING = Result(rated_speed_rpm=3600, minimum_V=20.0)


def compared(
    before: Result, after: Result, *, machine: str = "Cart", drawn: AlignedRows = ROWS
) -> CompareView:
    return compare_view(
        compare_results(before, after), Side("a.jsonl", machine, ROWS), Side("b.jsonl", machine, drawn)
    )


def test_a_run_without_a_result_can_not_be_compared() -> None:
    view = compared(NOTHING, result(), drawn=AlignedRows.empty())
    assert (view.change.digits, view.change.plus_minus) == ("--.-", "")
    assert view.meaning.words == "can't be compared"
    assert any("before  … no rated output" in text for text, _ in view.told)
    assert [level.label for level in view.rated.levels] == ["after", "limit"]
    assert [series.joined for series in view.volts.series] == [False, False, True], "only one has a line"


@pytest.mark.parametrize(
    ("after_v", "words", "digits"),
    [
        (24.60, "no change shown", "+0.0"),
        (17.31, "a significant fall", "-7.3"),
        (29.0, "a significant rise", "+4.4"),
    ],
)
def test_the_change_and_what_it_means(after_v: float, words: str, digits: str) -> None:
    view = compared(result(), result(rated_voltage_V=after_v))
    assert view.meaning.words == words
    assert view.change.digits == digits
    assert view.meaning.limit == "limit at least 20.0 V"


def test_limits_that_differ_and_none_at_all() -> None:
    assert compared(result(), result(minimum_V=22.0)).meaning.limit == "the limits differ"
    none = result(minimum_V=None, verdict="no_limit")
    view = compared(none, none, machine="")
    assert view.meaning.limit == "no limit is set"
    assert view.heading == "no machine card"
    assert [level.label for level in view.rated.levels] == ["before", "after"]
