"""The run in simulated time: the bytes that would arrive, and when."""

from __future__ import annotations

import pytest

from drivers.bench.fast import Arrival, simulate
from drivers.bench.model import BenchSetup


@pytest.fixture(scope="module")
def run() -> list[Arrival]:
    return list(simulate(BenchSetup(script="sweep", seed=2), 40.0))


def test_both_instruments_come_at_their_pace(run: list[Arrival]) -> None:
    meter = [arrival for arrival in run if arrival.card == "bench-meter"]
    tach = [arrival for arrival in run if arrival.card == "bench-tach"]
    assert 2.5 <= len(meter) / 40.0 <= 4.0
    assert len(tach) in {79, 80}
    assert all(arrival.data.endswith(b"\n") and 0.0 < float(arrival.data) < 31.0 for arrival in meter)
    assert all(arrival.data.endswith(b" rpm\r\n") for arrival in tach)


def test_arrivals_are_in_order_late_by_little_and_do_not_drift(run: list[Arrival]) -> None:
    for card, pace_s, first_s in (("bench-meter", 0.3, 0.85), ("bench-tach", 0.5, 0.55)):
        times_s = [arrival.t_s for arrival in run if arrival.card == card]
        assert times_s == sorted(times_s)
        late_s = [t_s - first_s - k * pace_s for k, t_s in enumerate(times_s)]
        assert all(-1e-9 <= late < 0.03 for late in late_s)
        assert len(set(late_s)) > 10


def test_the_same_seed_gives_the_same_bytes_and_times(run: list[Arrival]) -> None:
    assert list(simulate(BenchSetup(script="sweep", seed=2), 40.0)) == run


def test_a_sweep_goes_over_the_test_speed_and_back(run: list[Arrival]) -> None:
    rpm = [int(arrival.data.split()[0]) for arrival in run if arrival.card == "bench-tach"]
    above = [value > 3600 for value in rpm]
    crossings = sum(a != b for a, b in zip(above, above[1:], strict=False))
    assert crossings >= 2
    assert min(rpm) < 1900
