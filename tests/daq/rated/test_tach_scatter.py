"""What of a tach's scatter is taken for missed marks, and what is left to the engine, the volts and the digits."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.following import Track
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.tach_scatter import TachScatter, find_tach_scatter

Floats = NDArray[np.float64]

T = np.arange(0.0, 60.0, 0.5)
AT = np.arange(0.0, 60.0, 0.4)


def found(
    speed: Floats,
    volts: Floats | None = None,
    *,
    digit_rpm: float = 1.0,
    tach_share: float = 0.0,
    lag_known: bool = True,
    together: bool = True,
    t: Floats = T,
) -> TachScatter | None:
    tach = InstrumentLimits(tach_share > 0.0, tach_share, 0.0, digit_rpm)
    shown = np.full(len(AT), 20.0) if volts is None else volts
    meter = InstrumentLimits(False, 0.0, 0.0, 0.01)
    return find_tach_scatter(
        Track(t, speed, tach), Track(AT, shown, meter), lag_known=lag_known, together=together
    )


def skewed(share: float, seed: int = 1, count: int = len(T)) -> Floats:
    return 1.0 - share * np.random.default_rng(seed).exponential(1.0, count)


def test_an_exponential_scatter_is_one_sided_and_its_mean_about_found() -> None:
    seen = found(3600.0 * skewed(0.015))
    assert seen is not None
    assert (seen.kind, seen.low) == ("one_sided", True)
    assert seen.at_least < 0.015 < seen.half_width < 0.025


def test_a_tach_that_counts_too_much_at_times_reaches_upwards() -> None:
    seen = found(3600.0 * (2.0 - skewed(0.015)))
    assert seen is not None
    assert (seen.kind, seen.low) == ("one_sided", False)


@pytest.mark.parametrize("seed", range(8))
def test_an_even_scatter_is_no_more_than_single_marks_missed_at_random(seed: int) -> None:
    rng = np.random.default_rng(seed)
    seen = found(3600.0 * (1.0 + 0.01 * rng.normal(0.0, 1.0, len(T))))
    assert seen is not None
    assert seen.kind == "even"
    assert 0.8 * 0.01**2 * 30.0 < seen.half_width <= 0.012


@pytest.mark.parametrize(("share", "kind"), [(0.022, "even"), (0.04, "wild")])
def test_beyond_three_percent_nothing_can_be_said_of_the_mean(share: float, kind: str) -> None:
    seen = found(3600.0 * (1.0 + share * np.random.default_rng(5).normal(0.0, 1.0, len(T))))
    assert seen is not None
    assert seen.kind == kind


def test_what_the_digits_or_the_limits_allow_is_not_looked_at() -> None:
    speed = 3600.0 * skewed(0.006)
    assert found(speed) is not None
    assert found(speed, digit_rpm=36.0) is None
    assert found(speed, tach_share=0.01) is None
    assert found(3600.0 * skewed(0.002)) is None


def test_what_the_engine_does_is_in_both() -> None:
    def hunt(t: Floats) -> Floats:
        return np.asarray(1.0 + 0.02 * np.abs(np.sin(0.9 * t)) ** 3)  # one-sided, and of the engine

    assert found(3600.0 * hunt(T), 20.0 * hunt(AT)) is None
    assert found(3600.0 * hunt(T), 20.0 * hunt(AT - 0.4), lag_known=False) is None
    assert found(3600.0 * hunt(T)) is not None


def test_volts_that_fall_at_times_are_not_the_tachs() -> None:
    falling = 20.0 * skewed(0.02, count=len(AT))
    assert found(np.full(len(T), 3600.0), falling) is None
    assert found(np.full(len(T), 3600.0), 40.0 - falling, together=False) is None


def test_a_hole_in_the_volts_is_not_bridged() -> None:
    """The volts stand for the engine's old speed beside the hole; nothing in it is held against them."""
    beside = (AT < 20.0) | (AT > 40.0)
    speed = np.where((T > 20.5) & (T < 39.5), 3000.0, 3600.0)
    meter, tach = (InstrumentLimits(False, 0.0, 0.0, digit) for digit in (0.01, 1.0))
    volts = Track(AT[beside], np.full(int(beside.sum()), 20.0), meter)
    assert find_tach_scatter(Track(T, speed, tach), volts, lag_known=True) is None


def test_few_readings_say_nothing_and_very_many_are_looked_at_in_pieces() -> None:
    assert found(3600.0 * skewed(0.015)[:15], t=T[:15]) is None
    t = np.arange(0.0, 30_000.0, 0.5)
    limits = InstrumentLimits(False, 0.0, 0.0, 0.01)
    volts = Track(np.arange(0.0, 30_000.0, 0.4), np.full(75_000, 20.0), limits)
    seen = find_tach_scatter(Track(t, 3600.0 * skewed(0.015, count=len(t)), limits), volts, lag_known=True)
    assert seen is not None
    assert seen.kind == "one_sided"
    assert 0.015 < seen.half_width < 0.021  # clipping takes some of the skewness


def test_a_middle_of_nothing_has_no_scatter_to_be_looked_at() -> None:
    mostly = np.where(np.arange(len(T)) % 3, 0.0, 3600.0) * skewed(0.015)
    assert found(mostly) is None
    assert found(3600.0 * skewed(0.015), np.where(np.arange(len(AT)) % 3, 0.0, 20.0)) is None


def hunting_at(t: Floats) -> Floats:
    """Share of the usual speed, once in five seconds or so."""
    return np.asarray(1.0 + 0.05 * np.sin(1.3 * t + 0.6 * np.sin(0.31 * t)))


@pytest.mark.parametrize("late_s", [-0.8, -0.5, -0.3, 0.3, 0.7, 0.8])
def test_volts_that_come_up_to_a_second_late_are_brought_beside_the_speed(late_s: float) -> None:
    speed, volts = 3600.0 * hunting_at(T), 20.0 * hunting_at(AT - late_s)
    assert found(speed, volts, lag_known=False) is None
    assert found(speed * skewed(0.012), volts, lag_known=False) is not None


@pytest.mark.parametrize("late_s", [-0.9, 0.9])
def test_volts_that_come_later_still_are_not(late_s: float) -> None:
    speed, volts = 3600.0 * hunting_at(T), 20.0 * hunting_at(AT - late_s)
    assert found(speed * (1.0 + 0.03 * (hunting_at(T) - 1.0)), volts, lag_known=False) is not None


def throttled(share: float) -> Floats:
    """Volts that go up and down by this share from the reading before to that after, for half of the run."""
    shape = np.abs((AT / 0.8 + 0.25) % 8.0 - 4.0) - 2.0
    return np.asarray(20.0 * np.exp(share * 0.5 * shape * 2.0 * (AT > 30.0)))


@pytest.mark.parametrize(("share", "looked_at"), [(0.04, True), (0.09, False)])
def test_where_the_throttle_moves_quickly_the_tach_is_not_looked_at(share: float, looked_at: bool) -> None:
    volts = throttled(share)
    way = np.log(np.interp(T + 0.5, AT, volts) / np.interp(T - 0.5, AT, volts))
    own = np.where(np.abs(way) > share, skewed(0.02), 1.0)
    seen = found(3600.0 / 20.0 * np.interp(T, AT, volts) * own, volts)
    assert (seen is not None) == looked_at
