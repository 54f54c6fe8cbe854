"""Which time of day a moment of a session was: sleeps, clocks that are set, and clocks that were never set."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from daq.recording.entries import UNKNOWN_START, ClockEntry, SessionEntry
from daq.recording.lines import MAX_T_NS
from daq.recording.wall_clock import WallClock, date_of, may_be_a_date

SECOND = 1_000_000_000
START = datetime(2026, 3, 1, 8, tzinfo=UTC)
UNSET = datetime(1970, 1, 1, 0, 0, 5, tzinfo=UTC)


def of(
    start: datetime | str, looks: Sequence[tuple[float, datetime | str]], source: str = "run"
) -> WallClock:
    """A clock that was begun at a moment and looked at so many seconds later."""
    clock = WallClock()
    clock.begin(SessionEntry(program="p", started_utc=_text(start), source=source))
    for after_s, shown in looks:
        assert clock.take(ClockEntry(t_ns=round(after_s * SECOND), utc=_text(shown))) is None
    return clock


def _text(moment: datetime | str) -> str:
    return moment if isinstance(moment, str) else moment.isoformat()


def after(seconds: float, start: datetime = START) -> datetime:
    return start + timedelta(seconds=seconds)


def dates(clock: WallClock, *seconds: float) -> list[datetime]:
    """Of these session times, one by one; all at once must give the same."""
    t_ns = [round(each * SECOND) for each in seconds]
    one_by_one = [clock.utc(each) for each in t_ns]
    at_once = clock.utc_us(np.array(t_ns, np.int64)).tolist()
    assert at_once == [
        (one - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1) for one in one_by_one if one
    ]
    return [one for one in one_by_one if one is not None]


def test_without_a_look_dates_run_on_from_the_start() -> None:
    clock = of(START, [])
    assert dates(clock, 0, 1.5, 86_400) == [START, after(1.5), after(86_400)]
    assert clock.told() == []


def test_looks_that_agree_change_nothing() -> None:
    clock = of(START, [(60, after(60.001)), (120, after(119.6)), (180, after(180.49))])
    assert dates(clock, 59, 61, 500) == [after(59), after(61), after(500)]
    assert clock.told() == []


def test_what_drifts_slowly_counts_once_it_has_added_up() -> None:
    clock = of(START, [(60 * n, after(60 * n + 0.2 * n)) for n in range(1, 5)])
    assert dates(clock, 179, 180, 240) == [after(179), after(180.6), after(240.6)]


def test_a_sleep_makes_all_that_follows_later() -> None:
    clock = of(START, [(6, after(5406)), (66, after(5466))])
    assert dates(clock, 0, 5.999999, 6, 100) == [START, after(5.999999), after(5406), after(5500)]
    assert dates(clock, -0.25) == [after(-0.25)], "a reading that was placed just before the start"
    assert clock.told() == [
        "From 6.0 s on, the computer's dates are 90 min later: it slept, or its clock was set."
    ]


def test_fractions_of_a_microsecond_are_added_up_before_they_are_cut_off() -> None:
    clock = of(START, [(6.0000007, after(5406))])
    assert dates(clock, 6.0000009) == [after(5406)]
    assert dates(clock, 6.0000018) == [after(5406.000001)]


def test_a_clock_that_is_set_back_counts_from_then_on() -> None:
    clock = of(START, [(10, after(-86_390))])
    assert dates(clock, 9, 10, 20) == [after(9), after(-86_390), after(-86_380)]
    assert clock.told() == ["From 10.0 s on, the computer's dates are 24 h 0 min earlier: its clock was set."]


def test_each_of_several_jumps_counts_until_the_next() -> None:
    clock = of(START, [(10, after(3610)), (20, after(20)), (30, after(5430)), (40, after(-60))])
    assert dates(clock, 5, 15, 25, 35, 45) == [after(5), after(3615), after(25), after(5435), after(-55)]
    assert len(clock.told()) == 4


def test_of_many_jumps_the_first_are_told_and_the_rest_counted() -> None:
    clock = of(START, [(n, after(n + 3600 * (n % 2))) for n in range(1, 10)])
    assert len(clock.told()) == 6
    assert clock.told()[-1] == "So it went 4 more times."


def test_a_start_before_the_clock_was_set_is_worked_back_from_when_it_was() -> None:
    clock = of(UNSET, [(20, START), (80, after(60))])
    assert clock.known
    assert dates(clock, 0, 19, 20, 90) == [after(-20), after(-1), START, after(70)]
    assert clock.told() == [
        "The computer's clock was not set when the run began: dates are worked back from when it was."
    ]


def test_a_sleep_after_it_was_set_does_not_move_what_came_before() -> None:
    clock = of(UNSET, [(20, START), (30, after(10 + 3600))])
    assert dates(clock, 0, 29, 31) == [after(-20), after(9), after(11 + 3600)]
    assert len(clock.told()) == 2


def test_looks_at_a_clock_that_is_still_not_set_are_passed_over() -> None:
    clock = of(UNSET, [(60, after(60, UNSET)), (120, "2000-01-01T00:00:00Z"), (130, START)])
    assert dates(clock, 0, 125, 130) == [after(-130), after(-5), START]


def test_a_clock_that_was_never_set_gives_no_dates() -> None:
    clock = of(UNSET, [(60, after(60, UNSET))])
    assert not clock.known
    assert clock.utc(0) is None
    assert clock.told() == ["The computer's clock was not set during the run, so its moments have no dates."]
    with pytest.raises(ValueError, match="no dates"):
        clock.utc_us(np.zeros(1, np.int64))


def test_a_clock_that_loses_its_date_is_not_believed() -> None:
    clock = of(START, [(10, UNSET), (20, "2200-06-01T00:00:00Z"), (30, "9999-12-31T23:59:59-23:59")])
    assert dates(clock, 9, 11, 31) == [after(9), after(11), after(31)]
    assert clock.told() == []


def test_a_date_far_into_a_run_that_would_have_begun_before_there_was_one_is_passed_over() -> None:
    clock = of(UNSET, [(MAX_T_NS / SECOND, START)])
    assert not clock.known


def test_the_time_zone_of_a_text_is_heeded() -> None:
    clock = of("2026-03-01T13:45:00+05:45", [(6, "2026-03-01T01:30:06-08:00")])
    assert dates(clock, 0, 6) == [START, after(5406)]


def test_a_log_without_a_start_has_no_dates_and_nothing_is_said_of_a_computer() -> None:
    clock = of(UNKNOWN_START, [], "import")
    assert not clock.known
    assert clock.told() == []


@pytest.mark.parametrize(
    ("text", "source", "known"),
    [
        ("2014-08-15T19:00:35Z", "import", True),
        ("1970-01-01T00:00:00.000001Z", "import", True),
        ("1970-01-01T01:00:00+01:00", "import", False),
        ("2014-08-15T19:00:35Z", "run", False),
        ("2025-12-31T23:59:59Z", "demo", False),
        ("2026-01-01T00:00:00Z", "run", True),
        ("2200-01-01T00:00:00Z", "run", False),
    ],
)
def test_a_log_may_be_old_and_a_run_only_as_old_as_the_program(text: str, source: str, known: bool) -> None:
    assert (date_of(SessionEntry(program="p", started_utc=text, source=source)) is not None) is known


def test_a_date_of_a_run_lies_between_the_programs_first_year_and_2200() -> None:
    assert [may_be_a_date(datetime(year, 1, 1, tzinfo=UTC)) for year in (1970, 2025, 2026, 2199, 2200)] == [
        *(False, False, True, True, False),
    ]


@pytest.mark.parametrize("text", ["", "noon", "2026-03-01T09:00:00", "2026-03-01T25:00:00Z", "1e999", "٢٠٢٦"])
def test_a_look_that_is_no_time_is_refused_and_the_rest_counts(text: str) -> None:
    clock = of(START, [(6, after(5406))])
    assert clock.take(ClockEntry(t_ns=7 * SECOND, utc=text)) == "its utc is no time"
    assert dates(clock, 0, 8) == [START, after(5408)]


def test_a_look_that_runs_back_is_refused_and_the_rest_counts() -> None:
    clock = of(START, [(10, after(3610))])
    assert clock.take(ClockEntry(t_ns=9 * SECOND, utc=_text(after(7209)))) == "t_ns = 9000000000 runs back"
    assert clock.take(ClockEntry(t_ns=10 * SECOND, utc=_text(after(7210)))) is None
    assert dates(clock, 9, 10) == [after(9), after(7210)], "of two at one moment the later line counts"


def test_the_greatest_times_there_are_stay_within_what_can_be_counted() -> None:
    clock = of("2199-12-31T23:59:59.999999Z", [(60, "2199-12-31T00:00:00Z")])
    assert dates(clock, MAX_T_NS / SECOND)[0].year == 2326
    assert of("2026-01-01T00:00:00Z", []).utc(MAX_T_NS) == datetime(2152, 10, 3, 7, 6, 40, tzinfo=UTC)
