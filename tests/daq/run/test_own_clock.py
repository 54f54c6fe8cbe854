"""An instrument's own clock and count, followed piece by piece."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.run.channels import ChannelData, RunData
from daq.run.own_clock import Followed, follow, new_start_notes
from tests.runs import channel_of

Floats = NDArray[np.float64]


def pair(arrival_s: Floats, counts: Floats, own_s: Floats) -> tuple[ChannelData, ChannelData]:
    """A counter's two channels."""
    count = channel_of(1, Quantity.REVOLUTIONS, arrival_s, counts)
    clock = channel_of(2, Quantity.DEVICE_TIME, arrival_s, own_s)
    return count, replace(clock, entry=changed(clock.entry, instrument=count.entry.instrument))


def followed(count: ChannelData, clock: ChannelData) -> Followed:
    return follow(count, RunData((count, clock), None))


def test_several_lines_that_arrive_at_once_keep_their_own_times() -> None:
    own = 0.1 * np.arange(40.0)
    arrival = np.repeat(0.4 * np.arange(10.0), 4) + 5.4
    seen = followed(*pair(arrival, 5.0 * own, own))
    steps = np.diff(seen.time_s)
    np.testing.assert_allclose(steps, 0.1, rtol=1e-9, err_msg="scatter is no clock that runs slow")
    assert seen.anew_s == ()


def test_a_clock_that_runs_slow_is_stretched_over_all_its_pieces() -> None:
    rng = np.random.default_rng(4)
    true = 0.2 * np.arange(600.0)
    own = true / 1.004
    own[300:] -= own[300]
    seen = followed(*pair(true + 2.0 + rng.uniform(0.0, 0.03, 600), 10.0 * true, own))
    for piece in (slice(0, 300), slice(300, 600)):
        np.testing.assert_allclose(np.diff(seen.time_s[piece]), 0.2, rtol=2e-4)
    assert len(seen.anew_s) == 1


def test_a_loss_without_a_fall_is_a_piece_of_its_own_but_no_new_start() -> None:
    own = 0.1 * np.arange(40.0)
    counts = 5.0 * own
    count, clock = pair(own + 3.0, counts, own)
    quality = np.zeros(40, np.int8)
    quality[20] = Quality.LOST
    value = counts.copy()
    value[20] = np.nan
    seen = followed(replace(count, quality=quality, value=value), clock)
    assert np.flatnonzero(np.diff(seen.value[np.isfinite(seen.value)]) < 0).tolist() == [19], (
        "the kernel sees a cut"
    )
    np.testing.assert_allclose(np.diff(seen.value[21:]), 0.5)
    assert seen.anew_s == ()
    assert np.all(np.isfinite(seen.time_s))
    assert np.all(np.diff(seen.time_s) >= 0.0)


def test_each_piece_is_put_on_our_clock_by_itself() -> None:
    own = np.concatenate((0.2 * np.arange(50.0) + 700.0, 0.2 * np.arange(50.0)))
    arrival = np.concatenate((0.2 * np.arange(50.0) + 2.0, 0.2 * np.arange(50.0) + 13.0))
    count, clock = pair(arrival, np.concatenate((np.arange(50.0), np.arange(50.0))), own)
    seen = followed(count, clock)
    np.testing.assert_allclose(seen.time_s, arrival, atol=1e-9)
    assert seen.anew_s == (13.0,)
    (note,) = new_start_notes(RunData((count, clock), None))
    assert note.startswith("The count of instrument-1 began anew at 13 s:")


def test_a_count_without_a_clock_is_cut_where_it_falls() -> None:
    arrival = 0.2 * np.arange(20.0)
    counts = np.concatenate((np.arange(10.0), np.arange(10.0)))
    seen = follow(count := channel_of(1, Quantity.REVOLUTIONS, arrival, counts), RunData((count,), None))
    assert (seen.own_clock, seen.anew_s) == (False, (2.0,))
    np.testing.assert_array_equal(seen.time_s, arrival)


def test_a_speed_without_a_clock_stays_as_it_is() -> None:
    arrival = 0.2 * np.arange(20.0)
    falling = channel_of(1, Quantity.ROTATIONAL_SPEED, arrival, 4000.0 - np.arange(20.0))
    assert follow(falling, RunData((falling,), None)).anew_s == ()
