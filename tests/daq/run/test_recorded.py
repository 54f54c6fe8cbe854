"""A recording that is opened: what its capture noted, its rows for a table, and how they were made."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.recording.entries import UNKNOWN_START, ChannelEntry, ClockEntry, EventEntry, Line
from daq.run.recorded import RecordedRun, open_recording
from tests.daq.report.recorded import volts_and_speed, written

_SECOND = 1_000_000_000


def channel(number: int, quantity: Quantity) -> ChannelEntry:
    return ChannelEntry(
        channel=number,
        quantity=quantity,
        unit=quantity.unit,
        instrument=f"instrument-{number}",
        address=f"port {number}",
        card={},
        card_channel=0,
    )


def opened(folder: Path, lines: Sequence[Line], **session: str) -> RecordedRun:
    return open_recording(written(folder / "run.jsonl", lines, **session))  # type: ignore[arg-type]  # texts only


def with_events(count: int) -> list[Line]:
    events = [EventEntry(t_ns=n * _SECOND, kind="silent", text=f"Silence {n}.") for n in range(1, count + 1)]
    return [channel(0, Quantity.AC_VOLTAGE), Reading(0, 0, 24.0), *events, *events]


@pytest.mark.parametrize(
    ("count", "more"),
    [
        (0, []),
        (5, []),
        (6, ["1 more such event is in the recording."]),
        (8, ["3 more such events are in the recording."]),
    ],
)
def test_what_happened_is_told_once_each_and_the_rest_counted(
    tmp_path: Path, count: int, more: list[str]
) -> None:
    run = opened(tmp_path, with_events(count))
    first = [f"Silence {n}." for n in range(1, min(count, 5) + 1)]
    assert list(run.data.problems) == first + more


def test_speed_alone_gives_rows_of_its_own(tmp_path: Path) -> None:
    speeds = [Reading(0, n * _SECOND, 3600.0 + n) for n in range(4)]
    speeds[2] = Reading(0, 2 * _SECOND, None, Quality.BAD_FRAME)
    frame = opened(tmp_path, [channel(0, Quantity.ROTATIONAL_SPEED), *speeds]).aligned()
    assert frame["time_s"].tolist() == [0.0, 1.0, 2.0, 3.0]
    np.testing.assert_array_equal(frame["speed_rpm"], [3600.0, 3601.0, np.nan, 3603.0])
    assert frame["voltage_V"].isna().all()
    assert set(frame["quality"]) == {"no value"}
    assert frame["utc"][1].isoformat() == "2026-04-02T09:30:01+00:00"


def test_a_rows_time_is_the_float64_nearest_to_its_stamp(tmp_path: Path) -> None:
    """As nanoseconds times 1e-9 one of them read 0.058898000000000006."""
    stamps_us = [58_898, 1_000_003, 2_000_007, 86_400_000_001, 8_640_000_000_003]
    speeds = [Reading(0, stamp * 1000, 3600.0) for stamp in stamps_us]
    frame = opened(tmp_path, [channel(0, Quantity.ROTATIONAL_SPEED), *speeds]).aligned()
    assert [repr(value) for value in frame["time_s"].tolist()] == [
        *("0.058898", "1.000003", "2.000007", "86400.000001", "8640000.000003"),
    ]


def test_counted_turns_alone_are_no_speed_in_the_rows(tmp_path: Path) -> None:
    turns = [Reading(0, n * _SECOND, 60.0 * n) for n in range(4)]
    frame = opened(tmp_path, [channel(0, Quantity.REVOLUTIONS), *turns]).aligned()
    assert len(frame) == 4
    assert frame["speed_rpm"].isna().all()


def test_further_channels_stand_beside_the_rows_each_by_its_name(tmp_path: Path) -> None:
    lines: list[Line] = [channel(n, Quantity.TEMPERATURE) for n in range(3)]
    for n in range(5):
        lines += [Reading(0, n * _SECOND, 20.0 + n), Reading(1, n * _SECOND + 100_000_000, 40.0 + n)]
    lines.append(Reading(2, 90 * _SECOND, 60.0))
    frame = opened(tmp_path, lines).aligned()
    unit = Quantity.TEMPERATURE.unit
    assert list(frame.columns[-3:]) == [f"temperature_{unit}{end}" for end in ("", "_2", "_3")]
    assert frame[f"temperature_{unit}"].tolist() == [20.0, 21.0, 22.0, 23.0, 24.0]
    assert frame[f"temperature_{unit}_2"].tolist() == [40.0, 41.0, 42.0, 43.0, 44.0], "the nearest in time"
    assert frame[f"temperature_{unit}_3"].isna().all(), "too far away from every row"


def test_a_channel_of_which_nothing_usable_came_is_an_empty_column(tmp_path: Path) -> None:
    lines = volts_and_speed(24.0, seconds=5.0)
    frame = opened(tmp_path, [*lines[:2], channel(2, Quantity.DC_CURRENT), *lines[2:]]).aligned()
    assert len(frame) == sum(isinstance(line, Reading) and line.channel == 0 for line in lines)
    assert frame["dc_current_A"].isna().all()
    assert frame["voltage_V"].notna().all()


def test_a_recording_without_a_channel_has_no_rows(tmp_path: Path) -> None:
    run = opened(tmp_path, [])
    assert len(run.aligned()) == 0
    assert run.budget() is None
    assert "alignment" not in run.how_made()


def test_a_log_without_a_start_has_no_hours_in_its_rows(tmp_path: Path) -> None:
    run = opened(tmp_path, volts_and_speed(24.0), started_utc=UNKNOWN_START, source="import")
    assert run.aligned()["utc"].isna().all()
    made = run.how_made()
    assert (made["started_utc"], made["ended_utc"]) == (None, None)
    assert made["rated_speed_rpm"] == 3600.0


def test_how_the_rows_were_made_goes_with_them(tmp_path: Path) -> None:
    run = opened(tmp_path, volts_and_speed(24.0))
    made = run.how_made()
    assert (made["recording"], made["recorded_by"]) == ("run.jsonl", "spinvolt test")
    assert str(made["ended_utc"]).startswith("2026-04-02T09:30:59")
    assert made["lag_s"] == pytest.approx(0.2, abs=0.02)
    alignment = made["alignment"]
    assert isinstance(alignment, dict)
    assert alignment["voltage_window_s"] == 0.4
    assert b'"verdict": "pass"' in run.result_json()


def _spread(looks: dict[int, str]) -> list[Line]:
    """Ten seconds of speed with looks at both clocks in them."""
    lines: list[Line] = [channel(0, Quantity.ROTATIONAL_SPEED)]
    for n in range(11):
        lines += [ClockEntry(t_ns=n * _SECOND, utc=looks[n])] if n in looks else []
        lines.append(Reading(0, n * _SECOND, 3600.0))
    return lines


def test_the_dates_of_the_rows_go_forward_over_a_sleep_and_their_seconds_do_not(tmp_path: Path) -> None:
    run = opened(tmp_path, _spread({6: "2026-04-02T11:00:06Z"}))
    frame = run.aligned()
    assert frame["time_s"].tolist() == list(range(11))
    told = [moment.isoformat() for moment in frame["utc"]]
    assert told[5:7] == ["2026-04-02T09:30:05+00:00", "2026-04-02T11:00:06+00:00"]
    made = run.how_made()
    assert (made["started_utc"], made["ended_utc"]) == ("2026-04-02T09:30:00Z", "2026-04-02T11:00:10+00:00")
    assert made["dates"] == [
        "From 6.0 s on, the computer's dates are 90 min later: it slept, or its clock was set."
    ]


def test_a_run_that_began_before_the_clock_was_set_has_its_dates_from_when_it_was(tmp_path: Path) -> None:
    run = opened(tmp_path, _spread({4: "2026-04-02T09:30:04Z"}), started_utc="1970-01-01T00:00:23Z")
    assert run.recording.start.isoformat() == "2026-04-02T09:30:00+00:00"
    assert run.aligned()["utc"][0].isoformat() == "2026-04-02T09:30:00+00:00"
    made = run.how_made()
    assert (made["started_utc"], made["ended_utc"]) == (
        "2026-04-02T09:30:00+00:00",
        "2026-04-02T09:30:10+00:00",
    )
    assert str(made["dates"]).count("worked back") == 1


def test_a_run_under_a_clock_that_was_never_set_has_no_dates(tmp_path: Path) -> None:
    run = opened(tmp_path, _spread({4: "1970-01-01T00:00:27Z"}), started_utc="1970-01-01T00:00:23Z")
    assert not run.recording.start_known
    assert run.aligned()["utc"].isna().all()
    made = run.how_made()
    assert (made["started_utc"], made["ended_utc"]) == (None, None)
    assert str(made["dates"]).count("was not set during the run") == 1


def test_dates_beyond_what_counts_in_nanoseconds_are_dates_all_the_same(tmp_path: Path) -> None:
    lines: list[Line] = [channel(0, Quantity.TEMPERATURE), Reading(0, 3_000_000_000 * _SECOND, 20.0)]
    run = opened(tmp_path, lines, started_utc="2199-12-31T00:00:00Z")
    assert run.aligned()["utc"][0].isoformat() == "2295-01-24T05:20:00+00:00"
