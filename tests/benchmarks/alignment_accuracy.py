"""``python -m tests.benchmarks.alignment_accuracy [RUNS]``: rows and lag against the truth, and against hand work.

By hand: each volts reading divided by the newest rpm reading.
"""

from __future__ import annotations

import sys

import numpy as np

from daq.align.lag import LagPrior
from daq.align.pairing import Pairing, pair_streams
from daq.align.streams import Stream, place_streams
from tests.benchmarks.random_runs import KINDS, RATED_RPM, RandomRun, random_run


def align(run: RandomRun) -> Pairing:
    """The run through the product's alignment, without cards."""
    volts = Stream(run.volts_t, run.volts, np.zeros(len(run.volts), np.bool_), None)
    speed = Stream(run.speed_t, run.speed, np.zeros(len(run.speed), np.bool_), None)
    streams = place_streams(speed, volts, digit_v=0.01, digit_rpm=1.0)
    return pair_streams(streams, speed_card=None, volts_card=None, prior=LagPrior(), digit_v=0.01)


def by_hand(run: RandomRun) -> np.ndarray:
    """Relative errors of volts over the newest rpm."""
    newest = np.searchsorted(run.speed_t, run.volts_t, side="right") - 1
    some = newest >= 0
    return run.volts[some] / run.speed[newest[some]] * RATED_RPM / run.rated_v - 1.0


def main(runs: int) -> None:
    """Print the table."""
    rng = np.random.default_rng(20261125)
    print(f"{runs} random runs of each kind, 75 s")
    print(
        "kind     rms ratio: pooled  median | x noise floor (median) | rows with a value | lag error median, within 3 u"
    )
    for kind in KINDS:
        ours, hand, floor, shares, errors, scores = [], [], [], [], [], []
        for _ in range(runs):
            run = random_run(rng, kind)
            pairing = align(run)
            known = np.isfinite(pairing.rows.speed_rpm)
            rated = pairing.rows.voltage_v[known] / pairing.rows.speed_rpm[known] * RATED_RPM
            ours.append(float(np.mean(np.square(rated / run.rated_v - 1.0))))
            hand.append(float(np.mean(np.square(by_hand(run)))))
            floor.append(np.sqrt(ours[-1]) / run.row_noise)
            shares.append(float(np.mean(known)))
            errors.append(pairing.lag.lag_s - run.lag_s)
            scores.append(abs(errors[-1]) / pairing.lag_u_s)
        pooled = np.sqrt(np.mean(hand) / np.mean(ours))
        median = np.median(np.sqrt(np.array(hand) / np.array(ours)))
        print(
            f"{kind:8s}            {pooled:6.1f}  {median:6.1f} | {np.median(floor):22.2f} | "
            f"{100 * np.min(shares):10.1f} % min | {1e3 * np.median(np.abs(errors)):8.1f} ms, "
            f"{100 * np.mean(np.array(scores) < 3.0):.1f} %"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
