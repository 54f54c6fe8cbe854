"""What the compare screen says where two runs can't be compared, fell, or had other limits."""

from __future__ import annotations

import msgspec
import pytest

from daq.run.rows import AlignedRows
from daq.verdict.change import compare_results
from daq.verdict.result import Result
from tests.tui.builders import hunting, result, rows
from tui.dashboard.widgets.paragraphs import Paragraphs
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
    assert any("before  ? no rated output, not enough data  (a.jsonl)" in text for text, _ in view.told)
    assert [level.label for level in view.rated.levels] == ["after", "limit"]
    assert [series.joined for series in view.volts.series] == [False, False, True], "only one has a line"


def test_a_run_that_is_still_recorded_may_have_data_enough_yet() -> None:
    sides = Side("a.jsonl", "Cart", ROWS, going_on=True), Side("b.jsonl", "Cart", ROWS)
    view = compare_view(compare_results(NOTHING, NOTHING), *sides)
    assert [text for text, _ in view.told[:2]] == [
        "before  … no rated output, not enough data yet  (a.jsonl)",
        "after   ? no rated output, not enough data  (b.jsonl)",
    ]


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


UNKNOWN = "The meter's accuracy is unknown, so the uncertainty holds nothing of it."


def test_at_least_stands_wherever_the_uncertainty_does() -> None:
    unsure = result(reasons=[UNKNOWN])
    view = compared(unsure, result(rated_voltage_V=29.0))
    assert "24.61 V ± 0.31 V at least, " in view.told[0][0]
    assert "at least" not in view.told[1][0]
    assert any("rose by 4.39 V ± 0.43 V at least" in text for text, _ in view.told)
    assert any("an unknown error of its own" in text and tone == "doubt" for text, tone in view.told)


def test_two_machines_are_told_and_shown_with_doubt() -> None:
    change = msgspec.structs.replace(
        compare_results(result(), result(rated_voltage_V=29.0)), same_machine=False
    )
    view = compare_view(change, Side("a.jsonl", "One", ROWS), Side("b.jsonl", "Other", ROWS))
    assert (view.meaning.words, view.meaning.tone, view.meaning.chance) == (
        "machines differ",
        "doubt",
        "no repair shown",
    )
    assert view.heading == "One / Other"


def test_what_is_wrong_with_a_file_is_told_as_the_command_tells_it() -> None:
    wrong = "It was cut off: it has no closing line."
    view = compare_view(
        compare_results(result(), result()),
        Side("a.jsonl", "Cart", ROWS, (wrong,)),
        Side("b.jsonl", "Cart", ROWS),
    )
    assert (f"before: {wrong}", "doubt") in view.told


def test_reasons_that_do_not_fit_are_scrolled_to() -> None:
    box = Paragraphs(scrolls=True)
    box.show(tuple((f"reason {number}", None) for number in range(9)))
    rows = [row for line in box.paint(40, 4) for row, _ in line]
    assert rows == [" reason 0", " reason 1", " reason 2", " 6 rows more: ↓"]
    box.scroll_rows(20)
    assert [row for line in box.paint(40, 4) for row, _ in line] == [
        " reason 6",
        " reason 7",
        " reason 8",
        " the end; back: ↑",
    ]
    box.scroll_rows(-1)
    assert box.paint(40, 4)[0][0][0] == " reason 5"
