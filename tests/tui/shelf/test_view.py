"""What the recordings screen shows of each recording, and what can be chosen."""

from __future__ import annotations

from datetime import UTC
from pathlib import Path

import pytest

from tests.tui.shelf.builders import FOUND, SUMMARIES, found, summary
from tui.dashboard.widgets.listing import Listing
from tui.shelf.summary import State
from tui.view.shelf import Choice, ShelfView, listing_line, marked_pair, shelf_view, toggled

IDLE = (0, "", 0.0)


NOTHING = Choice()


def view(choice: Choice = NOTHING, busy: tuple[int, str, float] = IDLE) -> ShelfView:
    return shelf_view(Path("recordings"), FOUND, SUMMARIES, choice, busy, zone=UTC)


def test_each_recording_has_its_row() -> None:
    rows = {row.path.name: row for row in view().rows}
    after = rows["after.jsonl"]
    assert (after.when, after.length, after.result) == ("2026-03-14 09:00", "0:45", "24.6 V ± 0.31 V")
    assert (after.shape, after.verdict, after.tone, after.state) == ("✓", "PASS", "good", "closed")
    assert [
        (rows[f"{name}.jsonl"].state, rows[f"{name}.jsonl"].state_tone) for name in ("cut", "changed", "now")
    ] == [
        ("cut off", "bad"),
        ("changed", "bad"),
        ("going on", "good"),
    ]
    assert (rows["now.jsonl"].shape, rows["now.jsonl"].verdict) == ("…", "WAIT")
    assert (rows["diary.jsonl"].state, rows["diary.jsonl"].machine, rows["diary.jsonl"].result) == (
        "no run",
        "diary",
        "",
    )
    assert (rows["new.jsonl"].shape, rows["new.jsonl"].result) == ("…", "")


@pytest.mark.parametrize("state", ["closed", "cut_off", "changed", "damaged"])
def test_what_has_ended_waits_for_nothing(state: State) -> None:
    (one,) = found("a.jsonl")
    told = summary(state=state, verdict="not_enough_data", rated_voltage_V=None, expanded_uncertainty_V=None)
    seen = shelf_view(Path("recordings"), [one], {one.path: told}, Choice(one.path), IDLE, zone=UTC)
    assert (seen.rows[0].shape, seen.rows[0].verdict) == ("?", "NONE")
    assert ("? not enough data; no rated output can be stated", "quiet") in seen.detail
    assert ", not enough data, " in listing_line(one, told, zone=UTC)


def test_a_run_without_a_date_is_given_none() -> None:
    (one,) = found("a.jsonl")
    told = summary(started_s=None)
    seen = shelf_view(Path("recordings"), [one], {one.path: told}, Choice(one.path), IDLE, zone=UTC)
    assert seen.rows[0].when == "no date"
    assert listing_line(one, told, zone=UTC).startswith("no date, ")
    assert view().rows[-2].when == "2026-03-14 08:55", "no recording: when the file was written"


def test_every_tone_comes_with_a_shape_of_its_own() -> None:
    shapes: dict[str, set[str]] = {}
    for row in view().rows:
        if row.state:
            shapes.setdefault(row.state_shape, set()).add(row.state_tone)
    assert all(len(tones) == 1 for tones in shapes.values())


@pytest.mark.parametrize(
    ("name", "told"),
    [
        (
            "after.jsonl",
            "✓ meets its limit: rated output 24.61 V ± 0.31 V at 3600 rpm, limit at least 20.0 V",
        ),
        ("cut.jsonl", "It was cut off: all its whole lines are there, what came after them is missing."),
        ("diary.jsonl", "diary.jsonl is no spinvolt recording."),
        ("now.jsonl", "… not enough data yet; no rated output can be stated"),
        ("new.jsonl", "Being worked out ..."),
    ],
)
def test_the_chosen_one_is_told_in_full(name: str, told: str) -> None:
    assert told in [text for text, _ in view(Choice(Path(name))).detail]


def test_the_status_says_what_is_being_worked_out() -> None:
    assert view().status == "7 recordings"
    assert view(busy=(2, "long-run.jsonl", 0.4)).status == "working out  40 %, 2 to go"


def test_nothing_is_there_yet() -> None:
    empty = shelf_view(Path("recordings"), [], {}, Choice(), IDLE)
    assert empty.rows == ()
    assert empty.detail[0][0] == "No recordings are in recordings yet."


def test_two_at_most_are_marked_and_the_older_one_counts_as_before() -> None:
    choice = Choice(Path("after.jsonl"))
    choice = toggled(choice)
    assert marked_pair(choice, FOUND) is None
    assert marked_pair(choice._replace(selected=Path("cut.jsonl")), FOUND) == (
        Path("cut.jsonl"),
        Path("after.jsonl"),
    )
    choice = toggled(choice._replace(selected=Path("before.jsonl")))
    assert marked_pair(choice, FOUND) == (Path("before.jsonl"), Path("after.jsonl"))
    assert {row.path.name: row.mark for row in view(choice).rows if row.mark} == {
        "after.jsonl": "after",
        "before.jsonl": "before",
    }
    choice = toggled(choice._replace(selected=Path("cut.jsonl")))
    assert choice.marked == (Path("before.jsonl"), Path("cut.jsonl"))
    assert toggled(choice).marked == (Path("before.jsonl"),)


def test_a_line_of_words_for_each() -> None:
    one = found("a.jsonl")[0]
    assert listing_line(one, summary(), zone=UTC) == (
        "2026-03-14 09:00, Sprayer cart of an invented plant nursery, length 0:45, 24.6 V ± 0.31 V, meets its limit, "
        "closed: a.jsonl"
    )
    assert listing_line(one, SUMMARIES[Path("diary.jsonl")], zone=UTC).startswith(
        "a.jsonl: unreadable. diary.jsonl is"
    )


UNKNOWN = "The meter's accuracy is unknown, so the uncertainty holds nothing of it."


def test_an_uncertainty_that_leaves_the_meters_own_error_out_says_so_wherever_it_stands() -> None:
    (one,) = found("a.jsonl")
    told = summary(
        rated_voltage_V=27.734, expanded_uncertainty_V=0.1376, reasons=["It meets the limit.", UNKNOWN]
    )
    seen = shelf_view(Path("recordings"), [one], {one.path: told}, Choice(one.path), (0, "", 0.0), zone=UTC)
    assert seen.rows[0].result == "27.73 V ± ≥0.14 V"
    assert "27.73 V ± 0.14 V at least (and the meter's own error, unknown)" in seen.detail[1][0]
    assert "27.73 V ± at least 0.14 V, " in listing_line(one, told, zone=UTC)


@pytest.mark.parametrize(
    ("expanded", "told"), [(0.25, "± 0.25 V"), (0.249, "± 0.25 V"), (1.96, "± 2.0 V"), (0.0837, "± 0.084 V")]
)
def test_no_uncertainty_is_told_smaller_than_its_two_digits(expanded: float, told: str) -> None:
    (one,) = found("a.jsonl")
    known = {one.path: summary(expanded_uncertainty_V=expanded)}
    seen = shelf_view(Path("recordings"), [one], known, Choice(one.path), (0, "", 0.0), zone=UTC)
    assert seen.rows[0].result.endswith(told)


def test_a_file_name_that_has_no_room_is_not_cut_in_the_column_of_machines() -> None:
    names = found("spinvolt-20261125-103005.jsonl", "new.jsonl")
    listing = Listing()
    listing.show(shelf_view(Path("recordings"), names, {}, NOTHING, IDLE, zone=UTC))
    for width, shown in ((80, ["…", "new"]), (120, ["spinvolt-20261125-103005", "new"])):
        rows = ["".join(text for text, _ in line) for line in listing.paint(width, 4)[1:]]
        assert [row[21:46].split()[0] for row in rows] == shown
