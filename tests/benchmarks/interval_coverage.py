"""``python -m tests.benchmarks.interval_coverage [RUNS]``: how often the stated 95 % interval holds the truth.

Each run's instruments have their own errors: their cards' limits times a number
drawn evenly from -1 to 1. Three tables: with cards; without cards, against the
instruments' own scales; and with 4 % false tach readings and a gap of 9 s.
"""

from __future__ import annotations

import sys

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import Accuracy, ChannelCard, Response
from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.recording.entries import ChannelEntry
from daq.run.analysis import analyse
from daq.run.channels import ChannelData, RunData
from daq.verdict.result import Result
from tests.benchmarks.random_runs import KINDS, RandomRun, random_run

METER = ChannelCard(
    quantity=Quantity.AC_VOLTAGE,
    resolution=0.01,
    accuracy=Accuracy(percent_of_reading=0.8, counts=3.0),
    response=Response(window_s=0.4),
)
TACH = ChannelCard(
    quantity=Quantity.ROTATIONAL_SPEED,
    resolution=1.0,
    accuracy=Accuracy(percent_of_reading=0.05, counts=1.0),
    response=Response(window_s=0.5, averaging="contiguous"),
)
BARE_METER = ChannelCard(quantity=Quantity.AC_VOLTAGE)
BARE_TACH = ChannelCard(quantity=Quantity.ROTATIONAL_SPEED)


def channel(
    number: int, card: ChannelCard, time_s: NDArray[np.float64], value: NDArray[np.float64]
) -> ChannelData:
    """A channel as a recording would give it."""
    entry = ChannelEntry(
        channel=number,
        quantity=card.quantity,
        unit=card.quantity.unit,
        instrument=str(number),
        address="",
        card={},
        card_channel=0,
    )
    return ChannelData(entry, card, time_s, value, np.zeros(len(value), np.int8))


def result_of(run: RandomRun, cards: tuple[ChannelCard, ChannelCard], minimum_v: float) -> Result:
    """The product's result of a run."""
    machine = MachineCard(name="m", title="m", rated_speed_rpm=3600.0, minimum_ac_voltage_v=minimum_v)
    volts = channel(0, cards[0], run.volts_t, run.volts)
    speed = channel(1, cards[1], run.speed_t, run.speed)
    return analyse(RunData((volts, speed), machine)).result


def spoilt(run: RandomRun, rng: np.random.Generator) -> RandomRun:
    """4 % false tach readings and 9 s without any."""
    speed = run.speed.copy()
    false = rng.random(len(speed)) < 0.04
    speed[false] *= rng.choice([2.0, 0.5, 3.0, 1.0 / 3.0], size=int(false.sum()))
    begin = rng.uniform(10.0, 55.0)
    keep = (run.speed_t < begin) | (run.speed_t > begin + 9.0)
    return RandomRun(
        run.volts_t, run.volts, run.speed_t[keep], speed[keep], run.rated_v, run.lag_s, run.row_noise
    )


def inside(result: Result, truth: float) -> bool:
    """The interval holds the truth."""
    if result.rated_voltage_V is None or result.expanded_uncertainty_V is None:
        return False
    return abs(result.rated_voltage_V - truth) <= result.expanded_uncertainty_V


def main(runs: int) -> None:
    """Print the tables."""
    rng = np.random.default_rng(20261126)
    print(f"{runs} runs of each kind")
    for kind in KINDS:
        with_cards, without, worst, wrong = 0, 0, 0.0, 0
        for _ in range(runs):
            # Errors as limits x [-1, 1]: the counts make the limit a little more than proportional.
            gain_v = 1.0 + rng.uniform(-1.0, 1.0) * (0.008 + 0.03 / 24.0)
            gain_n = 1.0 + rng.uniform(-1.0, 1.0) * (0.0005 + 1.0 / 3600.0)
            run = random_run(rng, kind, meter_gain=gain_v, tach_gain=gain_n)
            with_cards += inside(result_of(run, (METER, TACH), 20.0), run.rated_v)
            own_scale = run.rated_v * gain_v / gain_n
            without += inside(result_of(run, (BARE_METER, BARE_TACH), 20.0), own_scale)
            bad = result_of(spoilt(run, rng), (METER, TACH), run.rated_v * 1.02)
            if bad.rated_voltage_V is not None:
                worst = max(worst, abs(bad.rated_voltage_V / own_scale - 1.0))
            wrong += bad.verdict == "pass"
        print(
            f"{kind:8s} with cards {100 * with_cards / runs:5.1f} %   without {100 * without / runs:5.1f} %   "
            f"spoilt: worst {100 * worst:.3f} % off, {wrong} pass that should fail"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 334)
