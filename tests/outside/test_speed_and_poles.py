"""Speed, poles and frequency: n = 120 f / P."""

from __future__ import annotations

import numpy as np
import pytest

from daq.rated.poles import (
    frequency_hz,
    pole_pairs_from_readings,
    radians_per_second,
    synchronous_speed_rpm,
)
from tests.outside.published import RPM_50_HZ, RPM_60_HZ, held_against

POLES = tuple(range(2, 26, 2))


@pytest.mark.parametrize(("poles", "rpm"), list(zip(POLES, RPM_50_HZ, strict=True)))
@held_against("S1")
def test_speed_at_50_hz(poles: int, rpm: float) -> None:
    assert round(synchronous_speed_rpm(50.0, poles), 4) == rpm
    assert frequency_hz(rpm, poles) == pytest.approx(50.0, rel=1e-6)


@pytest.mark.parametrize(("poles", "rpm"), list(zip(POLES, RPM_60_HZ, strict=True)))
@held_against("S2")
def test_speed_at_60_hz(poles: int, rpm: float) -> None:
    assert round(synchronous_speed_rpm(60.0, poles), 4) == rpm
    assert frequency_hz(rpm, poles) == pytest.approx(60.0, rel=1e-6)


@pytest.mark.parametrize(("poles", "rpm", "hertz"), [(12, 3600.0, 360.0), (18, 3000.0, 450.0)])
@held_against("S3")
def test_frequency_from_poles_and_speed(poles: int, rpm: float, hertz: float) -> None:
    assert frequency_hz(rpm, poles) == hertz
    assert synchronous_speed_rpm(hertz, poles) == rpm


@held_against("S4")
def test_radians_per_second() -> None:
    assert radians_per_second(1.0) == pytest.approx(0.10471975511965977, rel=1e-15)
    assert f"{radians_per_second(1.0):.6E}" == "1.047198E-01"


@pytest.mark.parametrize("poles", [0, 3, -2, 1])
@held_against("S5")
def test_poles_that_are_no_pairs_are_refused(poles: int) -> None:
    with pytest.raises(ValueError, match=str(poles)):
        synchronous_speed_rpm(50.0, poles)
    with pytest.raises(ValueError, match=str(poles)):
        frequency_hz(3000.0, poles)


@pytest.mark.parametrize("poles", POLES)
@held_against("S1", "S2")
def test_pole_pairs_found_from_the_tables(poles: int) -> None:
    """The same tables read backwards: frequency and speed give the pole pairs."""
    rng = np.random.default_rng(poles)
    hertz = np.concatenate((np.full(20, 50.0), np.full(20, 60.0))) * rng.normal(1.0, 0.002, 40)
    rpm = np.concatenate((np.full(20, RPM_50_HZ[poles // 2 - 1]), np.full(20, RPM_60_HZ[poles // 2 - 1])))
    found = pole_pairs_from_readings(hertz, rpm)
    assert found.pole_pairs == poles // 2
    assert found.ratio == pytest.approx(poles / 2, rel=0.003)


def test_a_tach_that_counts_every_mark_twice_gives_no_whole_pole_pair() -> None:
    """Nine pole pairs, and a tach reading twice the speed: 4.5 is no number of pole pairs."""
    rpm = np.linspace(1800.0, 3600.0, 50)
    found = pole_pairs_from_readings(9.0 * rpm / 60.0, 2.0 * rpm)
    assert found.pole_pairs is None
    assert found.ratio == pytest.approx(4.5)


def test_many_pole_pairs_are_not_guessed_at_from_between_two() -> None:
    """With 22 pairs 2 % are nearly half a pair: a ratio of 21.7 is neither 21 nor 22."""
    rpm = np.linspace(1800.0, 3600.0, 50)
    assert pole_pairs_from_readings(21.7 * rpm / 60.0, rpm).pole_pairs is None
    assert pole_pairs_from_readings(21.9 * rpm / 60.0, rpm).pole_pairs == 22


def test_too_few_readings_say_nothing_of_pole_pairs() -> None:
    found = pole_pairs_from_readings(np.array([360.0, np.nan, 360.0]), np.array([3600.0, 3600.0, 3600.0]))
    assert found.pole_pairs is None
    assert np.isnan(found.ratio)
