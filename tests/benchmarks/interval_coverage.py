"""Does the stated 95 % interval hold the truth, and does false data ever pass?

Run as ``python -m tests.benchmarks.interval_coverage [RUNS]`` (1000 by default, the kinds of run mixed).

With cards: each instrument's true error is f times the limit of its card, f uniform from -1 to 1, one f
for each instrument and run; the interval must hold the true output in 93 to 98.5 % of the runs. Without
cards the accuracy is unknown and said to be: the interval must hold the output as these instruments'
own scales show it, in at least 93 %. With 4 % of the tach's readings false and a hole of 9 s, no result may
be off by more than 0.3 %, and no machine that is under its limit may pass.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np

from daq.cards.instrument import Accuracy, ChannelCard, Response
from daq.model.quantity import Quantity
from daq.run.analysis import Analysis, analyse
from tests.daq.align.builders import VOLTS_PER_RPM, Instruments, Kind, Run, random_run
from tests.runs import machine_of, run_of

RATED_RPM = 3600.0
TRUTH_V = VOLTS_PER_RPM * RATED_RPM
ASKED_FOR: tuple[Kind, ...] = ("sweep", "steps", "hunting")
"""The kinds for which the figures were asked."""
KINDS: tuple[Kind, ...] = (*ASKED_FOR, "ramp")
"""And one ramp, where the lag can't be told from an offset: the interval must hold, however wide."""


@dataclass(frozen=True)
class Pair:
    """A meter and a tach by their cards' accuracy."""

    name: str
    meter: Accuracy
    tach: Accuracy

    def cards(self) -> tuple[ChannelCard, ChannelCard]:
        """Cards for both, with windows as the runs have them."""
        meter = ChannelCard(
            quantity=Quantity.AC_VOLTAGE,
            resolution=0.01,
            accuracy=self.meter,
            response=Response(window_s=0.4, interval_s=0.4),
        )
        tach = ChannelCard(
            quantity=Quantity.ROTATIONAL_SPEED,
            resolution=1.0,
            accuracy=self.tach,
            response=Response(window_s=0.5, interval_s=0.5, averaging="contiguous"),
        )
        return meter, tach

    def tools(self, rng: np.random.Generator) -> Instruments:
        """Instruments with errors of their own within the cards' limits."""
        f_v, f_n = rng.uniform(-1.0, 1.0, 2)
        return Instruments(
            volts_error=f_v * self.meter.percent_of_reading / 100.0,
            volts_error_counts=f_v * self.meter.counts,
            speed_error=f_n * self.tach.percent_of_reading / 100.0,
            speed_error_counts=f_n * self.tach.counts,
        )


PAIRS = (
    Pair("hand meter, good tach", Accuracy(0.8, 3.0), Accuracy(0.05, 1.0)),
    Pair("good meter, rough tach", Accuracy(0.2, 5.0), Accuracy(0.5, 1.0)),
    Pair("both alike", Accuracy(0.4, 2.0), Accuracy(0.4, 2.0)),
    Pair("both very good", Accuracy(0.02, 1.0), Accuracy(0.005, 0.0)),
)


def own_scale_v(tools: Instruments) -> float:
    """The output as these instruments show it: meter and tach wrong by their own errors, at rated speed."""
    shown_v = TRUTH_V * (1.0 + tools.volts_error) + tools.volts_error_counts * tools.volts_digit_v
    shown_rpm = RATED_RPM * (1.0 + tools.speed_error) + tools.speed_error_counts * tools.speed_digit_rpm
    return shown_v * RATED_RPM / shown_rpm


def analysed(
    run: Run, cards: tuple[ChannelCard | None, ChannelCard | None], minimum_v: float | None = None
) -> Analysis:
    """Analyse a run with or without cards."""
    meter, tach = cards
    machine = machine_of(RATED_RPM, minimum_v)
    return analyse(
        run_of((run.volts_t, run.volts), (run.speed_t, run.speed), machine=machine, meter=meter, tach=tach)
    )


def coverage(pair: Pair, runs: int, rng: np.random.Generator, *, cards: bool) -> dict[str, np.ndarray]:
    """For each kind: whether the interval held what it should, run by run."""
    held: dict[str, list[bool]] = {kind: [] for kind in KINDS}
    for i in range(runs):
        kind = KINDS[i % len(KINDS)]
        tools = pair.tools(rng)
        run = random_run(kind, rng, tools=tools)
        result = analysed(run, pair.cards() if cards else (None, None)).result
        truth = TRUTH_V if cards else own_scale_v(tools)
        if result.rated_voltage_V is None or result.expanded_uncertainty_V is None:
            held[kind].append(False)
            continue
        held[kind].append(abs(result.rated_voltage_V - truth) <= result.expanded_uncertainty_V)
    return {kind: np.array(v) for kind, v in held.items()}


def with_false_readings(run: Run, rng: np.random.Generator) -> Run:
    """4 % of the tach's readings multiplied by 2, 3, ½ or ⅓, and a hole of 9 s in the tach's readings."""
    speed = run.speed.copy()
    wrong = rng.random(len(speed)) < 0.04
    speed[wrong] = np.round(speed[wrong] * rng.choice([2.0, 0.5, 3.0, 1.0 / 3.0], int(wrong.sum())))
    begin = rng.uniform(5.0, 60.0)
    keep = (run.speed_t < begin) | (run.speed_t > begin + 9.0)
    return replace(run, speed_t=run.speed_t[keep], speed=speed[keep])


def spoiled(runs: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Relative errors of the results, and which verdicts passed at a limit 1 % above and under the truth."""
    errors, wrong_pass, right_pass = np.empty(runs), np.zeros(runs, bool), np.zeros(runs, bool)
    cards = (None, None)
    for i in range(runs):
        run = with_false_readings(random_run(ASKED_FOR[i % 3], rng), rng)
        weak = analysed(run, cards, minimum_v=1.01 * TRUTH_V).result
        errors[i] = np.nan if weak.rated_voltage_V is None else weak.rated_voltage_V / TRUTH_V - 1.0
        wrong_pass[i] = weak.verdict == "pass"
        right_pass[i] = analysed(run, cards, minimum_v=0.99 * TRUTH_V).result.verdict == "pass"
    return errors, wrong_pass, right_pass


def main() -> int:
    """Print the tables; 1 where a figure is missed."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    rng = np.random.default_rng(20260702)
    missed = False
    print(
        f"share of {runs} runs whose 95 % interval holds the truth (standard error {0.218 / runs**0.5:.4f})"
    )
    print(f"{'instruments':<24} {'cards':<6} {'all':>6}  " + "  ".join(f"{k:>8}" for k in KINDS))
    for pair in PAIRS:
        for cards in (True, False):
            held = coverage(pair, runs, rng, cards=cards)
            share = float(np.concatenate([held[kind] for kind in ASKED_FOR]).mean())
            missed |= float(held["ramp"].mean()) < 0.93
            missed |= share < 0.93 or (cards and share > 0.985)
            print(
                f"{pair.name:<24} {'yes' if cards else 'none':<6} {share:6.3f}  "
                + "  ".join(f"{held[k].mean():8.3f}" for k in KINDS)
            )
    errors, wrong_pass, right_pass = spoiled(runs, rng)
    known = np.isfinite(errors)
    worst = float(np.max(np.abs(errors[known])))
    missed |= worst > 0.003 or bool(wrong_pass.any())
    print(
        f"4 % false tach readings and a 9 s hole, {runs} runs: worst result off by {100 * worst:.3f} % "
        f"(wanted <= 0.3), without a result {int(np.sum(~known))}, 1 % under the limit and passed "
        f"{int(wrong_pass.sum())} (wanted 0), 1 % over it and passed {int(right_pass.sum())}"
    )
    return int(missed)


if __name__ == "__main__":
    raise SystemExit(main())
