"""Of very long runs a part stands for all: which one, and that what is worked out of it is what all would give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.align.excerpt import excerpt
from daq.align.false_readings import FalseReadings
from daq.align.lag import LagEstimate, LagPrior
from daq.align.marks import Mark
from daq.align.pairing import Pairing, pair_streams
from daq.align.parts import LONG, spread
from daq.align.streams import PlacedStreams
from daq.align.timebase import TimeBase

COUNT = 320_000
STEP_S = 0.1
LAG = LagEstimate(0.25, 0.01, determined=True)


def streams_of(count: int) -> PlacedStreams:
    """A throttle that goes slowly up and down, read by both at ten a second."""
    time_s = STEP_S * np.arange(float(count))
    speed = 3300.0 + 400.0 * np.sin(0.21 * time_s)
    volts = (3300.0 + 400.0 * np.sin(0.21 * (time_s - 0.25))) / 150.0
    base = TimeBase(time_s, STEP_S, 0.001, 1)
    marks = FalseReadings(np.zeros(count, np.uint8), np.zeros(count, np.uint8))
    return PlacedStreams(base, base, speed, volts, marks, counted=False)


def paired(streams: PlacedStreams, lag: LagEstimate) -> Pairing:
    first = pair_streams(streams, speed_card=None, volts_card=None, prior=LagPrior(), digit_v=0.0, given=None)
    known = replace(first, lag=lag)
    return pair_streams(streams, speed_card=None, volts_card=None, prior=LagPrior(), digit_v=0.0, given=known)


@pytest.mark.parametrize("count", [0, 1, LONG])
def test_few_stand_for_themselves(count: int) -> None:
    assert np.array_equal(np.arange(count)[spread(count)], np.arange(count))


@pytest.mark.parametrize("count", [LONG + 1, 1_234_567])
def test_of_many_one_of_each_block_stands_for_it_and_always_the_same(count: int) -> None:
    some = spread(count)
    again = spread(count)
    assert not isinstance(some, slice)
    assert not isinstance(again, slice)
    assert np.array_equal(some, again)
    share = count / len(some)
    assert share > 3.0
    assert np.all(np.abs(some / share - np.arange(len(some)) - 0.5) < 0.5 + 1.0 / share)
    # No step is kept with: every n-th would always meet the same part of a beat.
    phase = np.bincount(some % 3, minlength=3) / len(some)
    assert np.allclose(phase, 1.0 / 3.0, atol=0.01)


def test_a_run_that_is_not_very_long_stays_as_it_is() -> None:
    streams = streams_of(5000)
    assert excerpt(streams, np.ones(5000, np.bool_), [0.0]) is streams


def test_nothing_wanted_leaves_the_run_as_it_is() -> None:
    streams = streams_of(COUNT)
    assert excerpt(streams, np.zeros(COUNT, np.bool_), [0.0]) is streams


def test_rows_of_the_stretches_are_those_of_the_whole_run() -> None:
    streams = streams_of(COUNT)
    some = excerpt(streams, np.ones(COUNT, np.bool_), [0.25, -0.4])
    assert len(some.volts) == 32 * 2000
    whole, part = paired(streams, LAG), paired(some, LAG)
    there = np.searchsorted(whole.rows.time_s, part.rows.time_s)
    inner = part.mark == Mark.GOOD
    # At the run's own first second no speed is known by either.
    assert inner.sum() >= len(inner) - 10
    assert np.allclose(part.rows.speed_rpm[inner], whole.rows.speed_rpm[there][inner], rtol=0.0, atol=1e-6)


def test_the_stretches_are_those_that_hold_what_is_wanted() -> None:
    streams = streams_of(COUNT)
    wanted = np.zeros(COUNT, np.bool_)
    wanted[[100, 150_001, 300_007]] = True
    some = excerpt(streams, wanted, [0.0])
    assert len(some.volts) == 3 * 2000
    held = np.isin(streams.volts_base.time_s[wanted], some.volts_base.time_s)
    assert held.all()


def test_marks_and_values_stay_beside_their_times() -> None:
    streams = streams_of(COUNT)
    streams.marks.speed[150_003] = Mark.FALSE_SPEED
    streams.marks.volts[150_005] = Mark.VOLTAGE_SPIKE
    wanted = np.zeros(COUNT, np.bool_)
    wanted[150_001] = True
    some = excerpt(streams, wanted, [0.0])
    assert some.speed_base.time_s[some.marks.speed == Mark.FALSE_SPEED] == pytest.approx([15_000.3])
    assert some.volts_base.time_s[some.marks.volts == Mark.VOLTAGE_SPIKE] == pytest.approx([15_000.5])
    at = some.volts_base.time_s
    assert np.allclose(some.volts, (3300.0 + 400.0 * np.sin(0.21 * (at - 0.25))) / 150.0)
