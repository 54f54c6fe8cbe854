"""What a person who had never seen the run screen stumbled over, each held fast."""

from __future__ import annotations

from dataclasses import replace

import pytest

from daq.align.marks import Mark
from daq.verdict.change import compare_results
from daq.verdict.evidence import Evidence
from daq.verdict.findings import findings
from tests.tui.builders import RecordingControl, StillFeed, health, result, rows, snapshot
from tests.tui.builders import hunting as hunting_speed
from tests.tui.screen_text import SIZES, screen_rows, screen_text, shown_screen
from tui.dashboard.lowdigits import LOW_GLYPHS, low_text
from tui.dashboard.run_screen import RunScreen
from tui.dashboard.widgets.rated import RatedOutput
from tui.view.build import build_view
from tui.view.compare import Side, compare_view
from tui.view.doing import now_sentence
from tui.view.plots import scatter

BROKE = (
    "The link to /dev/pts/1 broke (Input/output error): check the plug, the cable and the instrument's power."
)
UNKNOWN = "The meter's accuracy is unknown (its card does not state it): only its last digit is in it."
TACH_TOO = "The tach's accuracy is unknown (its card does not state it)."


@pytest.mark.parametrize("plain", [False, True])
async def test_what_to_do_about_a_broken_link_is_whole_on_a_small_screen(plain: bool) -> None:
    state = snapshot(
        health=(health("bench-meter", state="lost", age_s=4.0, text=BROKE), health("text-speed"))
    )
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, plain=plain) as (app, pilot):
        screen.tick()
        await pilot.pause()
        await pilot.pause()
        shown = " ".join(" ".join(screen_rows(app)).split())
        assert f"bench-meter: {BROKE}" in shown, screen_text(app)


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("plain", [False, True])
async def test_an_uncertainty_without_the_meters_own_error_says_so(
    size: tuple[int, int], plain: bool
) -> None:
    known = result(rated_voltage_V=27.73, expanded_uncertainty_V=0.02)
    feed = StillFeed(snapshot(result=known))
    screen = RunScreen(feed, RecordingControl())
    async with shown_screen(screen, size, plain=plain) as (app, pilot):
        screen.tick()
        await pilot.pause()
        assert "95 %" in screen_text(app)
        assert "unknown" not in screen_text(app)
        for said, words in (
            ([UNKNOWN], "V and the meter's own error, unknown"),
            ([UNKNOWN, TACH_TOO], "meter's and tach's own errors, unknown"),
        ):
            feed.snapshot = snapshot(
                result=result(rated_voltage_V=27.73, expanded_uncertainty_V=0.02, reasons=said)
            )
            screen.tick()
            await pilot.pause()
            assert words in screen_text(app)
            assert "0.020 V" in screen_text(app)
            assert "at least" in screen_text(app)
            assert "95 %" not in screen_text(app)


def test_the_change_says_so_too_where_either_run_leaves_it_out() -> None:
    aligned = rows(hunting_speed, until_s=45.0)
    sides = (Side("a.jsonl", "Cart", aligned), Side("b.jsonl", "Cart", aligned))
    change = compare_results(result(reasons=[UNKNOWN]), result(rated_voltage_V=17.0))
    shown = compare_view(change, *sides).change
    assert shown.left_out == "and the meter's own error, unknown"
    widget = RatedOutput()
    widget.show(shown)
    drawn = ["".join(text for text, _ in line) for line in widget.paint(80, 8)]
    assert any("V and the meter's own error, unknown" in row for row in drawn)
    assert compare_view(compare_results(result(), result()), *sides).change.left_out == ""


def test_a_phone_held_upright_has_it_whole_too() -> None:
    widget = RatedOutput()
    widget.show(build_view(snapshot(result=result(reasons=[UNKNOWN, TACH_TOO]))).rated)
    rows_drawn = ["".join(text for text, _ in line) for line in widget.paint(40, 9)]
    assert " meter's and tach's own errors, unknown" in rows_drawn


def test_the_sentence_and_the_digits_are_one_figure() -> None:
    wide = build_view(snapshot(result=result(rated_voltage_V=27.47, expanded_uncertainty_V=2.1)))
    then = build_view(snapshot(result=result(rated_voltage_V=27.47, expanded_uncertainty_V=1.9)), wide)
    assert (then.rated.digits, then.rated.plus_minus) == ("27", "± 1.9 V")
    assert then.now == "Held 3600 rpm for 22 s: 27 V ± 1.9 V. The run can be closed."
    assert now_sentence(snapshot(), 0)[0].endswith(": 25 V ± 0.31 V. The run can be closed.")


@pytest.mark.parametrize(("value", "expanded"), [(27.73, 0.05), (27.0, 5.0), (9.94, 0.3), (9.2, 2.5)])
def test_the_point_keeps_its_column(value: float, expanded: float) -> None:
    view = build_view(snapshot(result=result(rated_voltage_V=value, expanded_uncertainty_V=expanded)))
    assert len(view.rated.digits.partition(".")[0]) == 2


async def test_plain_speed_is_large_on_a_small_screen() -> None:
    state = snapshot()
    screen = RunScreen(StillFeed(state), RecordingControl())
    async with shown_screen(screen, plain=True) as (app, pilot):
        screen.tick()
        await pilot.pause()
        assert screen.view is not None
        seen = screen_rows(app)
        first = next(at for at, row in enumerate(seen) if " rpm " in row and "HOLD" in row)
        for row, drawn in zip(seen[first:], low_text(screen.view.speed.digits), strict=False):
            assert row.startswith(f" {drawn}")
        assert screen_text(app).isascii()


def test_low_digits_are_all_of_one_size_and_no_two_alike() -> None:
    assert {len(row) for drawn in LOW_GLYPHS.values() for row in drawn} == {4}
    assert len(set(LOW_GLYPHS.values())) == len(LOW_GLYPHS)
    assert len(low_text("3600")) == 5


def test_a_row_that_was_left_out_is_no_dot_of_the_volts_against_speed() -> None:
    run = snapshot(40.0)
    marks, volts = run.rows.mark.copy(), run.rows.voltage_V.copy()
    marks[-3], volts[-3] = Mark.VOLTAGE_SPIKE, 99.0
    plot = scatter(replace(run, rows=replace(run.rows, mark=marks, voltage_V=volts)), None, None)
    dots = plot.series[-1]
    assert len(dots.xs) == len(run.rows.time_s) - 1
    assert max(dots.ys) < 30.0
    assert plot.y_high < 50.0


def test_the_core_says_it_in_the_words_the_screen_looks_for() -> None:
    evidence = Evidence(3600.0, 20.0, 400, 0, meter_digit_v=0.01)
    assert result(reasons=findings(None, evidence)).unknown_errors == ("meter", "tach")
    known = replace(evidence, meter_known=True, tach_known=True)
    assert result(reasons=findings(None, known)).unknown_errors == ()
