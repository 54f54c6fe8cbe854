"""The stated uncertainty of the lag where few readings tell it: paces of a second, short runs, a snapped throttle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagPrior
from daq.align.pairing import Pairing, pair_streams
from daq.align.streams import Stream, place_streams
from daq.cards.instrument import ChannelCard, Response
from daq.model.quantity import Quantity

Floats = NDArray[np.float64]
_FINE_S = 0.004


@dataclass(frozen=True)
class Paces:
    """Of meter and tach, seconds."""

    meter_s: float
    tach_s: float
    run_s: float
    engine_s: float = 0.5
    """Time constant of the engine."""
    hold_s: float = 8.0


SLOW = Paces(1.0, 1.0, 60.0)
SHORT = Paces(0.4, 1.0, 15.0, hold_s=4.0)
SNAPPED = Paces(0.4, 0.5, 60.0, engine_s=0.05, hold_s=6.5)
USUAL = Paces(0.4, 0.5, 75.0)


def levels(t: Floats, paces: Paces, rng: np.random.Generator) -> Floats:
    """A throttle moved every few seconds, an engine of first order behind it, a little wandering beside."""
    wish = rng.uniform(2400.0, 3900.0, int(paces.run_s / paces.hold_s) + 3)
    speed = np.full(len(t), wish[0])
    for number in range(1, len(wish)):
        since = np.maximum(t - paces.hold_s * number - rng.uniform(-0.5, 0.5), 0.0)
        speed += (wish[number] - wish[number - 1]) * (1.0 - np.exp(-since / paces.engine_s))
    phases = rng.uniform(0.0, 6.28, 3)
    for pace, phase in zip((0.6, 1.7, 3.1), phases, strict=True):
        speed += 2.0 * np.sin(pace * t + phase)
    return np.asarray(speed)


def hunt(t: Floats, rng: np.random.Generator) -> Floats:
    """A governor that hunts at a quarter to over half a hertz."""
    pace = 2.0 * np.pi * rng.uniform(0.25, 0.6)
    return np.asarray(3600.0 + 80.0 * np.sin(pace * t + np.sin(0.4 * t + rng.uniform(0.0, 6.0))))


def paired(paces: Paces, seed: int, *, cards: bool, hunting: bool = False) -> tuple[Pairing, float]:
    """A run and its true lag."""
    rng = np.random.default_rng(seed)
    fine = np.arange(-3.0, paces.run_s + 1.0, _FINE_S)
    rpm = hunt(fine, rng) if hunting else levels(fine, paces, rng)
    total = np.concatenate(([0.0], np.cumsum(0.5 * (rpm[1:] + rpm[:-1]) * _FINE_S)))

    def read(pace_s: float, window_s: float, late_s: float) -> tuple[Floats, Floats]:
        ends = np.arange(rng.uniform(0.0, pace_s), paces.run_s, pace_s)
        mean = (np.interp(ends, fine, total) - np.interp(ends - window_s, fine, total)) / window_s
        stamps = ends + late_s + np.abs(rng.normal(0.0, 0.03, len(ends)))
        return np.maximum.accumulate(stamps), mean

    late_v, late_n = rng.uniform(0.0, 0.6, 2)
    window_s = min(paces.meter_s, 0.4)
    volts_t, mean = read(paces.meter_s, window_s, late_v)
    volts = np.round(21.0 / 3600.0 * mean + rng.normal(0.0, 0.01, len(mean)), 2)
    speed_t, shown = read(paces.tach_s, paces.tach_s, late_n)
    meter = ChannelCard(
        quantity=Quantity.AC_VOLTAGE, response=Response(window_s=window_s, interval_s=paces.meter_s)
    )
    tach = ChannelCard(
        quantity=Quantity.ROTATIONAL_SPEED,
        response=Response(window_s=paces.tach_s, interval_s=paces.tach_s, averaging="contiguous"),
    )
    speed_card, volts_card = (tach, meter) if cards else (None, None)
    streams = place_streams(
        Stream(speed_t, np.round(shown), np.zeros(len(shown), dtype=np.bool_), speed_card),
        Stream(volts_t, volts, np.zeros(len(volts), dtype=np.bool_), volts_card),
        digit_v=0.01,
        digit_rpm=1.0,
        shift_s=None,
    )
    pairing = pair_streams(
        streams, speed_card=speed_card, volts_card=volts_card, prior=LagPrior(), digit_v=0.01
    )
    return pairing, late_v + 0.5 * window_s - late_n - 0.5 * paces.tach_s


def over_u(paces: Paces, seeds: range, *, cards: bool, hunting: bool = False) -> Floats:
    """Errors of the lags that are stated, in their stated standard uncertainties."""
    each = [paired(paces, seed, cards=cards, hunting=hunting) for seed in seeds]
    told = [((p.lag.lag_s - true) / p.lag_u_s) for p, true in each if p.lag.determined and not p.lag.rivals_s]
    return np.array(told)


@pytest.mark.parametrize("cards", [True, False])
@pytest.mark.parametrize(
    ("paces", "hunting"), [(SLOW, False), (SLOW, True), (SHORT, False), (SNAPPED, False)]
)
def test_of_the_lags_stated_nearly_all_lie_within_three_uncertainties(
    paces: Paces, hunting: bool, cards: bool
) -> None:
    over = over_u(paces, range(16), cards=cards, hunting=hunting)
    assert len(over) >= 3
    assert float(np.mean(np.abs(over) > 3.0)) <= 0.06
    assert float(np.max(np.abs(over))) < 4.5


@pytest.mark.parametrize("cards", [True, False])
def test_where_many_readings_tell_the_lag_it_stays_as_sure_as_it_is(cards: bool) -> None:
    each = [paired(USUAL, seed, cards=cards) for seed in range(8)]
    assert all(p.lag.determined for p, _ in each)
    assert float(np.median([p.lag_u_s for p, _ in each])) < 0.012
    assert float(np.median([abs(p.lag.lag_s - true) for p, true in each])) < 0.008
