"""Where an instrument's own clock says little: no reading of it, a few of them, one that stands, many new starts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.run.channels import ChannelData, RunData
from daq.run.own_clock import follow, new_start_notes
from tests.daq.run.test_own_clock import Floats, followed, pair
from tests.runs import channel_of


def begun_anew(times: int) -> RunData:
    """A count without a clock that began anew so many times, each ten seconds."""
    pieces = times + 1
    arrival = np.arange(10.0 * pieces)
    return RunData((channel_of(1, Quantity.REVOLUTIONS, arrival, np.tile(np.arange(10.0), pieces)),), None)


def flagged(channel: ChannelData, places: slice) -> ChannelData:
    """Some of its readings are bad."""
    quality, value = channel.quality.copy(), channel.value.copy()
    quality[places], value[places] = Quality.BAD_FRAME, np.nan
    return replace(channel, quality=quality, value=value)


@pytest.mark.parametrize(
    ("times", "told"),
    [
        (1, "began anew at 10 s: it was off"),
        (2, "began anew at 10 s and 20 s: it was off"),
        (5, "began anew at 10 s, 20 s, 30 s, 40 s and 50 s: it was off"),
        (6, "began anew at 10 s, 20 s, 30 s, 40 s, 50 s and 1 more time: it was off"),
        (8, "began anew at 10 s, 20 s, 30 s, 40 s, 50 s and 3 more times: it was off"),
    ],
)
def test_each_new_start_is_told_and_of_many_the_first(times: int, told: str) -> None:
    (note,) = new_start_notes(begun_anew(times))
    assert told in note


def test_a_run_without_a_new_start_is_told_nothing() -> None:
    assert new_start_notes(begun_anew(0)) == []


def test_volts_and_count_of_one_instrument_are_told_once() -> None:
    (count,) = begun_anew(1).channels
    own = np.tile(np.arange(10.0), 2)
    volts = channel_of(0, Quantity.AC_VOLTAGE, count.time_s, np.full(20, 24.0))
    clock = channel_of(2, Quantity.DEVICE_TIME, count.time_s, own)
    parts = [replace(c, entry=changed(c.entry, instrument="box")) for c in (volts, count, clock)]
    (note,) = new_start_notes(RunData(tuple(parts), None))
    assert note.startswith("The count of box began anew at 10 s:")


def test_a_clock_that_began_anew_without_a_count_is_told_as_the_clock() -> None:
    arrival = np.arange(20.0)
    speed = channel_of(1, Quantity.ROTATIONAL_SPEED, arrival, np.full(20, 3600.0))
    clock = channel_of(2, Quantity.DEVICE_TIME, arrival, np.tile(np.arange(10.0), 2))
    clock = replace(clock, entry=changed(clock.entry, instrument=speed.entry.instrument))
    (note,) = new_start_notes(RunData((speed, clock), None))
    assert note.startswith("The clock of instrument-1 began anew at 10 s:")


def test_a_clock_of_which_nothing_usable_came_leaves_the_arrivals() -> None:
    arrival = 0.2 * np.arange(20.0)
    count, clock = pair(arrival, np.arange(20.0), arrival)
    seen = followed(count, flagged(clock, slice(None)))
    np.testing.assert_array_equal(seen.time_s, arrival)
    assert seen.anew_s == ()


def test_a_few_readings_say_nothing_of_a_clock() -> None:
    arrival = np.array([0.0, 1.1, 1.9, 3.2, 4.0])
    seen = followed(*pair(arrival, np.arange(5.0), np.arange(5.0)))
    np.testing.assert_array_equal(seen.time_s, arrival)


def test_a_clock_that_missed_a_reading_is_read_between_its_neighbours() -> None:
    own: Floats = 0.2 * np.arange(40.0)
    late: Floats = np.where(np.arange(40) % 4 == 1, 0.03, 0.0)
    count, clock = pair(own + 3.0 + late, 5.0 * own, own)
    seen = followed(count, flagged(clock, slice(20, 21)))
    steps = np.diff(seen.time_s)
    np.testing.assert_allclose(
        np.delete(steps, [19, 20]), 0.2, rtol=1e-9, err_msg="the lateness is taken out"
    )
    assert steps[19:21].sum() == pytest.approx(0.4)


def test_a_clock_that_stands_still_takes_no_part_in_how_fast_it_runs() -> None:
    own: Floats = np.concatenate((np.full(20, 5.0), 0.2 * np.arange(60.0)))
    arrival = 0.2 * np.arange(80.0)
    seen = followed(*pair(arrival, np.concatenate((np.arange(20.0), np.arange(60.0))), own))
    np.testing.assert_allclose(np.diff(seen.time_s[20:]), 0.2, rtol=1e-9)
    assert np.all(np.diff(seen.time_s) >= 0.0)


def test_a_short_piece_between_two_new_starts_keeps_its_arrivals() -> None:
    arrival: Floats = 0.2 * np.arange(43.0)
    own: Floats = np.concatenate((0.2 * np.arange(20.0), [0.0, 0.5, 0.7], 0.2 * np.arange(20.0)))
    seen = followed(*pair(arrival, np.concatenate((np.arange(20.0), np.arange(3.0), np.arange(20.0))), own))
    np.testing.assert_allclose(seen.time_s[20:23], arrival[20:23], atol=1e-9)
    assert len(seen.anew_s) == 2


def test_a_count_that_begins_anew_higher_than_it_ended_is_cut_all_the_same() -> None:
    arrival, own = 0.2 * np.arange(40.0), np.tile(0.2 * np.arange(20.0), 2)
    counts: Floats = np.concatenate((np.arange(20.0), 100.0 + np.arange(20.0)))
    value = followed(*pair(arrival, counts, own)).value
    assert value[20] < value[19]
    np.testing.assert_array_equal(np.diff(value[20:]), 1.0)
    assert follow(channel_of(1, Quantity.REVOLUTIONS, arrival, counts), RunData((), None)).anew_s == ()
