"""When the kernel gives a row: as soon as the speed over its window is settled, and not before."""

from __future__ import annotations

import numpy as np
import pytest

from daq.align.revolutions import TachModel, build_segments
from daq.align.synchronizer import AlignmentParameters, PairedRows, Synchronizer

SPEED_T = np.asarray(0.5 * np.arange(60), dtype=np.float64)
SPEED = 3000.0 + 10.0 * SPEED_T
VOLTS_T = np.asarray(0.1 * np.arange(312), dtype=np.float64)


def settled_s(model: TachModel, value: np.ndarray) -> float:
    """Where the last segment ends that no later reading can change."""
    segments = build_segments(SPEED_T, value, model=model, period_s=0.5, ended=False)
    return float(segments.start_s[segments.final])


@pytest.mark.parametrize("lag_s", [-0.3, 0.0, 0.8])
@pytest.mark.parametrize("window_s", [0.1, 2.0])
@pytest.mark.parametrize("model", ["contiguous", "sampled", "counted"])
def test_rows_are_given_up_to_the_last_window_that_is_settled(
    model: TachModel, window_s: float, lag_s: float
) -> None:
    value = np.cumsum(SPEED) / 120.0 if model == "counted" else SPEED
    kernel = Synchronizer(AlignmentParameters(lag_s, window_s, model, 0.5, 1.3))
    given = kernel.feed(SPEED_T, value, VOLTS_T, np.ones(312))
    ends = VOLTS_T - lag_s + 0.5 * window_s
    due = int(np.sum(ends < settled_s(model, value) - 1e-3))
    assert 0 < due < 312
    assert len(given.time_s) == due
    rest = kernel.flush()
    assert len(rest.time_s) == 312 - due
    rows = PairedRows.joined([given, rest])
    assert rows.time_s.tolist() == VOLTS_T.tolist()


def test_readings_are_held_until_they_span_half_a_second() -> None:
    kernel = Synchronizer(AlignmentParameters(0.0, 0.4, "sampled", 0.5, 1.3))
    kernel.feed(SPEED_T, SPEED, VOLTS_T, np.ones(312))
    none = np.empty(0)
    horizon = max(SPEED_T[-1], VOLTS_T[-1])
    later = np.array([horizon + 0.49])
    assert len(kernel.feed(later, np.array([3300.0]), none, none).time_s) == 0
    assert len(kernel.feed(np.array([horizon + 0.51]), np.array([3300.0]), none, none).time_s) > 0


@pytest.mark.parametrize(("silent_s", "given"), [(13.2, False), (14.2, True)])
def test_a_row_waits_nine_gap_limits_and_twice_the_slack(silent_s: float, given: bool) -> None:
    """9 x 1.3 s + 2 x 1 s = 13.7 s beyond the end of its window, the tach having fallen silent before it."""
    p = AlignmentParameters(0.0, 0.4, "sampled", 0.5, 1.3)
    assert p.wait_s == pytest.approx(13.7)
    kernel = Synchronizer(p)
    kernel.feed(SPEED_T, SPEED, np.array([]), np.array([]))
    lonely = float(SPEED_T[-1]) + 3.0
    kernel.feed(np.array([]), np.array([]), np.array([lonely]), np.array([20.0]))
    rows = kernel.feed(np.array([]), np.array([]), np.array([lonely + 0.2 + silent_s]), np.array([20.0]))
    assert (lonely in rows.time_s.tolist()) == given
    assert np.isnan(rows.speed_rpm).all()
