"""A whole view: verdicts, health, memory, what comes from outside."""

from __future__ import annotations

from dataclasses import replace

import pytest

from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow
from daq.verdict.result import Result
from tests.tui.builders import CLOSED, EVENT, MACHINE, empty_snapshot, health, result, snapshot
from tui.view.build import build_view
from tui.view.health import health_view
from tui.view.verdict import verdict_view


@pytest.mark.parametrize(
    ("verdict", "word", "shape", "tone", "words"),
    [
        ("pass", "PASS", "✓", "good", "meets its limit"),
        ("fail", "FAIL", "✗", "bad", "misses its limit"),
        ("too_close", "DOUBT", "≈", "doubt", "too close to call"),
        ("no_limit", "NO LIMIT", "–", "quiet", "no limit is set"),
        ("not_enough_data", "WAIT", "…", "quiet", "not enough data yet"),
    ],
)
def test_verdict(verdict: str, word: str, shape: str, tone: str, words: str) -> None:
    view = verdict_view(result(verdict=verdict))
    assert (view.word, view.shape, view.tone, view.words) == (word, shape, tone, words)
    assert view.limit == "limit at least 20.0 V"
    assert view.chance == "chance over 99.9 %"


def test_a_run_that_has_ended_waits_for_nothing() -> None:
    nothing = Result(rated_speed_rpm=3600, minimum_V=20.0)
    ended = build_view(empty_snapshot(result=nothing, finished=True, close=CLOSED)).verdict
    assert (ended.word, ended.shape, ended.tone, ended.words) == ("NONE", "?", "quiet", "not enough data")
    assert build_view(empty_snapshot(result=nothing)).verdict.word == "WAIT"
    passed = build_view(snapshot(finished=True, close=CLOSED)).verdict
    assert passed == build_view(snapshot()).verdict


def test_no_limit_and_no_chance() -> None:
    view = verdict_view(result(minimum_V=None, conformance_probability=None, verdict="no_limit"))
    assert (view.limit, view.chance) == ("no limit on its card", "")


def test_the_main_value() -> None:
    rated = build_view(snapshot()).rated
    assert (rated.digits, rated.unit, rated.plus_minus) == ("24.6", "V", "± 0.31 V")
    assert rated.at == "at 3600 rpm, unloaded"


@pytest.mark.parametrize("missing", [None, float("nan")])
def test_a_value_that_is_not_known_is_not_shown(missing: float | None) -> None:
    rated = build_view(snapshot(result=result(rated_voltage_V=missing))).rated
    assert (rated.digits, rated.plus_minus) == ("--.-", "")


def test_a_value_below_ten_keeps_the_width() -> None:
    assert build_view(snapshot(result=result(rated_voltage_V=9.94))).rated.digits == " 9.9"


def test_the_last_digit_holds_still_from_view_to_view() -> None:
    first = build_view(snapshot(result=result(expanded_uncertainty_V=0.19)))
    second = build_view(snapshot(result=result(expanded_uncertainty_V=0.21)), first)
    fresh = build_view(snapshot(result=result(expanded_uncertainty_V=0.21)))
    assert (first.rated.digits, second.rated.digits, fresh.rated.digits) == ("24.61", "24.61", "24.6")


def test_axes_hold_still_from_view_to_view() -> None:
    first = build_view(snapshot(result=result(minimum_V=19.2)))
    second = build_view(snapshot(result=result(minimum_V=20.1)), first)
    fresh = build_view(snapshot(result=result(minimum_V=20.1)))
    assert second.rated_trace.y_low == first.rated_trace.y_low
    assert fresh.rated_trace.y_low > first.rated_trace.y_low


def test_plots_can_be_left_as_they_were() -> None:
    first = build_view(snapshot(40.0))
    second = build_view(snapshot(45.0), first, plots_too=False)
    assert second.rated_trace is first.rated_trace
    assert second.memory.ranges == first.memory.ranges
    assert (first.elapsed, second.elapsed) == ("0:40", "0:45")


@pytest.mark.parametrize(
    ("channel", "text"),
    [
        (None, "-- V"),
        (ChannelNow("V", 24.4149, Quality.GOOD, 0.1), "24.41 V"),
        (ChannelNow("V", 24.4, Quality.GOOD, 5.0), "-- V"),
        (ChannelNow("V", None, Quality.OVERLOAD, 0.1), "overload"),
        (ChannelNow("V", 24.4, Quality.HOLD, 0.1), "hold"),
    ],
)
def test_raw_volts(channel: ChannelNow | None, text: str) -> None:
    assert build_view(snapshot(voltage=channel)).raw_volts == text


@pytest.mark.parametrize(
    ("state", "changes", "shape", "tone"),
    [
        ("ok", {}, "●", "good"),
        ("ok", {"lost": 3}, "●", "doubt"),
        ("waiting", {"age_s": None}, "○", "quiet"),
        ("silent", {"age_s": 7.0}, "◌", "bad"),
        ("lost", {"age_s": 7.0}, "✗", "bad"),
    ],
)
def test_health(state: str, changes: dict[str, object], shape: str, tone: str) -> None:
    view = health_view(health(state=state, **changes))
    assert (view.shape, view.tone, view.state) == (shape, tone, state)


def test_health_in_words() -> None:
    view = health_view(health(age_s=0.12, rate_hz=9.94, readings=448, bad_frames=1, lost=2))
    assert (view.age, view.rate) == ("0.1 s ago", "9.9/s")
    assert view.counts == "448 readings, 1 bad frame, 2 lost"
    assert health_view(health(age_s=None, rate_hz=None)).age == "nothing yet"


def test_what_an_instrument_says_cannot_drive_the_screen() -> None:
    nasty = "\x1b[2J\x1b]0;mine\x07gone"
    run = snapshot(
        machine=replace_title(nasty),
        events=(type(EVENT)(t_ns=0, kind="note", text=nasty),),
        health=(replace(health(), instrument=nasty, state="lost", text=nasty),),
    )
    view = build_view(run)
    said = [view.heading, *view.messages, view.health[0].name, view.health[0].note]
    assert said == ["gone", "0:00 gone", "gone", "gone"]


def replace_title(title: str) -> object:
    return type(MACHINE)(name="x", title=title, rated_speed_rpm=3600)


def test_a_run_of_which_nothing_has_come() -> None:
    view = build_view(empty_snapshot())
    assert view.rated.digits == "--.-"
    assert view.rated_trace.empty == "no aligned rows yet"
    assert view.speed_trace.empty == "no speed readings yet"
    assert view.scatter.empty == "no aligned rows yet"


@pytest.mark.parametrize(("age_s", "told"), [(2.9, "ok"), (3.1, "silent"), (4.9, "silent")])
def test_an_instrument_is_called_well_only_while_its_value_is_shown(age_s: float, told: str) -> None:
    state = snapshot(
        speed=ChannelNow("rpm", 3600.0, Quality.GOOD, age_s),
        voltage=ChannelNow("V", 24.5, Quality.GOOD, age_s),
        health=(health(age_s=age_s), health("text-speed", age_s=age_s, rate_hz=None, lost=2)),
    )
    view = build_view(state)
    shown = {view.raw_volts != "-- V", view.speed.digits != "----"}
    assert shown == {told == "ok"}
    assert [each.state for each in view.health] == [told, told]
    assert {each.tone for each in view.health} == ({"good", "doubt"} if told == "ok" else {"bad"})


@pytest.mark.parametrize(
    ("age_s", "usual_s", "volts", "age", "told"),
    [
        (0.9, 0.1, "24.50 V", "", "ok"),
        (2.0, 0.1, "24.50 V, 2 s old", "2 s old", "ok"),
        (3.1, 0.1, "-- V", "", "silent"),
        (2.9, None, "24.50 V", "", "ok"),
        (2.9, 5.0, "24.50 V", "", "ok"),
        (4.9, 5.0, "24.50 V, 5 s old", "5 s old", "ok"),
        (14.9, 5.0, "24.50 V, 15 s old", "15 s old", "ok"),
        (15.1, 5.0, "-- V", "", "silent"),
    ],
)
def test_one_that_is_slow_by_nature_is_shown_until_its_next_reading_is_overdue(
    age_s: float, usual_s: float | None, volts: str, age: str, told: str
) -> None:
    state = snapshot(
        speed=ChannelNow("rpm", 3600.0, Quality.GOOD, age_s, usual_s),
        voltage=ChannelNow("V", 24.5, Quality.GOOD, age_s, usual_s),
        health=(health(age_s=age_s, usual_s=usual_s), health("text-speed", age_s=age_s, usual_s=usual_s)),
    )
    view = build_view(state)
    assert (view.raw_volts, view.speed.age) == (volts, age)
    assert (view.speed.digits == "----") is (told == "silent")
    assert [each.state for each in view.health] == [told, told]
    assert ("silent" in view.now or "No " in view.now or "Nothing" in view.now) is (told == "silent")


def test_a_word_of_the_meter_is_told_with_its_age_too() -> None:
    slow = ChannelNow("V", None, Quality.OVERLOAD, 6.0, 5.0)
    assert build_view(snapshot(voltage=slow)).raw_volts == "overload, 6 s old"


def test_what_was_kept_out_is_told_once_the_run_is_over() -> None:
    kept_out = "2 rows were kept out: volts that jumped alone."
    told = result(reasons=["It meets the limit.", kept_out, "The lag does not show."])
    assert build_view(snapshot(result=told, events=(EVENT,))).messages == (f"0:31 {EVENT.text}",)
    over = build_view(snapshot(result=told, events=(EVENT,), finished=True, close=CLOSED))
    assert over.messages == (f"0:31 {EVENT.text}", kept_out)
