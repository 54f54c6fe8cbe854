"""Where the limits lie between volts that follow the speed and volts that do not."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.rated.following import Track, find_unfollowed
from daq.rated.instrument_limits import InstrumentLimits

Floats = NDArray[np.float64]
T = np.arange(0.0, 90.0, 0.5)
HUNTING = np.sin(2.0 * np.pi * T / 9.0)


def kind(
    speed: Floats, volts: Floats, *, tach_share: float = 0.0, digit_rpm: float = 1.0, digit_v: float = 0.01
) -> str | None:
    tach = InstrumentLimits(tach_share > 0.0, tach_share, 0.0, digit_rpm)
    meter = InstrumentLimits(False, 0.0, 0.0, digit_v)
    shown = (
        np.asarray(np.round(speed / digit_rpm) * digit_rpm),
        np.asarray(np.round(volts / digit_v) * digit_v),
    )
    found = find_unfollowed(
        Track(T, shown[0], tach), Track(T, shown[1], meter), together=True, meter_window_s=0.4
    )
    return None if found is None else found.kind


@pytest.mark.parametrize(
    ("elasticity", "told"),
    [(0.5, "volts_still"), (0.7, None), (1.0, None), (1.5, None), (1.8, "volts_alone")],
)
def test_the_volts_may_move_by_six_to_sixteen_tenths_of_the_speed(
    elasticity: float, told: str | None
) -> None:
    assert kind(3600.0 * (1.0 + 0.03 * HUNTING), 20.0 * (1.0 + 0.03 * elasticity * HUNTING)) == told


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize(("share", "told"), [(0.018, None), (0.024, "volts_held")])
def test_a_movement_is_beyond_chance_at_four_standard_errors(
    share: float, told: str | None, seed: int
) -> None:
    """Beside a tach that scatters by 1.85 % neighbours share 0.28 and 0.4 of it; of 172 readings 0.305 is chance."""
    scatter = np.random.default_rng(seed).normal(0.0, 0.0185, len(T))
    assert kind(3600.0 * (1.0 + share * HUNTING + scatter), np.full(len(T), 20.4)) == told


@pytest.mark.parametrize("hz", [0.4, 0.5, 0.7, 0.85, 1.0])
@pytest.mark.parametrize(("elasticity", "told"), [(0.0, "volts_held"), (0.3, "volts_still"), (0.8, None)])
def test_a_governor_that_hunts_as_fast_as_the_tach_reads_is_a_movement(
    elasticity: float, told: str | None, hz: float
) -> None:
    swing = 0.02 * np.sin(2.0 * np.pi * hz * T + 0.8 * np.sin(0.7 * T) + 1.0)
    assert kind(3600.0 * (1.0 + swing), 20.0 * (1.0 + elasticity * swing)) == told


@pytest.mark.parametrize("jitter", [False, True])
def test_what_a_tach_scatters_by_itself_does_not_come_back(jitter: bool) -> None:
    """Marks seen too early or too late make one reading high and the next low by as much."""
    for seed in range(30):
        rng = np.random.default_rng(seed)
        late = rng.normal(0.0, 0.014, len(T) + 1)
        scatter = np.diff(late) if jitter else np.sqrt(2.0) * late[1:]
        assert kind(3600.0 * (1.0 + scatter), 20.0 + rng.normal(0.0, 0.01, len(T))) is None


@pytest.mark.parametrize(("share", "told"), [(0.003, None), (0.008, "volts_held")])
def test_a_speed_that_hardly_moves_asks_nothing_of_the_volts(share: float, told: str | None) -> None:
    assert kind(3600.0 * (1.0 + share * HUNTING), np.full(len(T), 20.4)) == told


def test_what_the_tachs_limits_or_the_meters_digits_may_hide_is_no_movement() -> None:
    speed, volts = 3600.0 * (1.0 + 0.008 * HUNTING), np.full(len(T), 20.0)
    assert kind(speed, volts, tach_share=0.01) is None
    assert kind(speed, volts, digit_rpm=20.0) is None
    assert kind(speed, volts, digit_v=0.5) is None


@pytest.mark.parametrize(("levels", "told"), [(0.96, "tach_scatters"), (0.997, None)])
def test_two_levels_of_a_tach_from_reading_to_reading(levels: float, told: str | None) -> None:
    rng = np.random.default_rng(3)
    speed = np.where(rng.random(len(T)) < 0.5, levels, 1.0) * (3600.0 + rng.normal(0.0, 2.0, len(T)))
    assert kind(speed, 20.0 + rng.normal(0.0, 0.01, len(T))) == told


def test_dead_volts_and_few_readings_say_nothing() -> None:
    assert kind(3600.0 * (1.0 + 0.05 * HUNTING), np.full(len(T), 0.1)) is None
    few = Track(T[:15], 3600.0 * (1.0 + 0.05 * HUNTING[:15]), InstrumentLimits(False, 0.0, 0.0, 1.0))
    still = Track(T[:15], np.full(15, 20.0), InstrumentLimits(False, 0.0, 0.0, 0.01))
    assert find_unfollowed(few, still, together=True, meter_window_s=0.4) is None
