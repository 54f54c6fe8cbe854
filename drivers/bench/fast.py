"""A run of the bench as fast as it can be worked out: the same bytes, with the times they would arrive at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from .machine import STEP_S
from .model import Bench, BenchSetup
from .scpi_dialog import ScpiDialog

__all__ = ["Arrival", "simulate"]


@dataclass(frozen=True)
class Arrival:
    """Bytes that came from an instrument."""

    card: str
    """``bench-meter`` or ``bench-tach``."""
    t_s: float
    """When they arrived, seconds since the run began."""
    data: bytes


def simulate(
    setup: BenchSetup,
    seconds: float,
    *,
    query: bytes = b"MEAS:VOLT:AC?\n",
    pause_s: float = 0.02,
    late_s: float = 0.002,
) -> Iterator[Arrival]:
    """Run a bench and ask its meter again and again; yields what arrives, in order for each instrument.

    Args:
        setup: what is on the bench.
        seconds: length of the run.
        query: what the meter is asked.
        pause_s: from an answer to the next question.
        late_s: mean of the random delay on the way, which never is negative.

    Raises:
        ValueError: a fault, script or place that isn't there.
    """
    bench = Bench(setup)
    dialog = ScpiDialog(bench.meter, setup.seed)
    way = Random(f"{setup.seed} way")
    ask_at_s = 0.0
    for _ in range(round(seconds / STEP_S)):
        if bench.t_s >= ask_at_s:
            dialog.receive(query)
            ask_at_s = float("inf")
        bench.step(STEP_S)
        answer = dialog.poll(bench.t_s)
        if answer:
            ask_at_s = bench.t_s + pause_s
            yield Arrival("bench-meter", bench.t_s + way.expovariate(1.0 / late_s), answer)
        for line in bench.tach.take(bench.t_s):
            yield Arrival("bench-tach", line.ready_s + way.expovariate(1.0 / late_s), line.wire)
