"""The multimeter: averages over a window, is late, counts in steps, and is a little wrong."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass
from random import Random

__all__ = ["FUNCTIONS", "Function", "Meter", "Result"]


@dataclass(frozen=True)
class Function:
    """One thing the meter can measure."""

    top: float
    """Largest value of its largest range."""
    count: float
    """One count of the display."""
    mean: str
    """How it averages: ``rms``, ``plain``, or ``conductance`` (an open contact counts while it lasts)."""
    gain_limit: float
    """Largest gain error, as a share of the reading."""


FUNCTIONS: dict[str, Function] = {
    "VOLT:AC": Function(top=600.0, count=0.01, mean="rms", gain_limit=0.004),
    "VOLT": Function(top=600.0, count=0.01, mean="plain", gain_limit=0.0015),
    "CURR:AC": Function(top=20.0, count=0.01, mean="rms", gain_limit=0.008),
    "CURR": Function(top=20.0, count=0.01, mean="plain", gain_limit=0.005),
    "RES": Function(top=1e6, count=0.01, mean="conductance", gain_limit=0.004),
    "FREQ": Function(top=1e5, count=0.1, mean="plain", gain_limit=0.0001),
}
"""By SCPI short form, with ``DC`` left out."""

_BEYOND_RANGE = 1.2
"""A range reads up to 120 % of its name."""


@dataclass(frozen=True)
class Result:
    """One finished reading: infinite where it is over range."""

    value: float
    ready_s: float
    """When the digits stand in the output, seconds of bench time."""


class Meter:
    """Free-running: every ``interval_s`` it averages the last ``window_s`` and shows that ``delay_s`` later.

    Args:
        random: noise and the meter's own errors, which stay within its accuracy.
        step_s: time between two calls of :meth:`observe`.
        window_s: length of the averaging window.
        delay_s: from the window's end to the reading.
        interval_s: from one reading to the next.
        noise_counts: standard deviation of each reading.
    """

    def __init__(
        self,
        random: Random,
        step_s: float,
        *,
        window_s: float = 0.4,
        delay_s: float = 0.25,
        interval_s: float = 0.3,
        noise_counts: float = 0.5,
    ) -> None:
        self.window_s, self.delay_s, self.interval_s = window_s, delay_s, interval_s
        self._random = random
        self._noise_counts = noise_counts
        self._gain = {
            name: 1.0 + random.uniform(-f.gain_limit, f.gain_limit) for name, f in FUNCTIONS.items()
        }
        self._window_steps = round(window_s / step_s)
        self._interval_steps = round(interval_s / step_s)
        self._samples: deque[float] = deque(maxlen=self._window_steps)
        self._steps = 0
        self._coming: deque[Result] = deque()
        self.results: deque[Result] = deque(maxlen=64)
        """Finished readings, newest last."""
        self.function = "VOLT:AC"
        self.range_top = FUNCTIONS["VOLT:AC"].top

    def gain_error(self, function: str) -> float:
        """This meter's own error, as a share of the reading."""
        return self._gain[function] - 1.0

    def configure(self, function: str, expected: float | None = None) -> None:
        """Turn to a function, and to a range that takes ``expected`` (None: the largest).

        Raises:
            ValueError: no range takes that much.
        """
        top = FUNCTIONS[function].top
        if expected is not None and not 0.0 < expected <= top:
            raise ValueError(f"no range for {expected}")
        range_top = top if expected is None else min(top, 6.0 * 10.0 ** math.ceil(math.log10(expected / 6.0)))
        if (function, range_top) == (self.function, self.range_top):
            return
        self.function, self.range_top = function, range_top
        self.restart()

    def restart(self) -> None:
        """Forget what was seen: the next reading comes from a whole new window."""
        self._samples.clear()
        self._coming.clear()
        self.results.clear()

    def observe(self, t_s: float, value: float) -> None:
        """Take in the true value over the step that ends at ``t_s``."""
        self._samples.append(self._shaped(value))
        self._steps += 1
        if self._steps % self._interval_steps == 0 and len(self._samples) == self._window_steps:
            self._coming.append(Result(self._reading(), t_s + self.delay_s))
        while self._coming and self._coming[0].ready_s <= t_s + 1e-9:
            self.results.append(self._coming.popleft())

    def _shaped(self, value: float) -> float:
        mean = FUNCTIONS[self.function].mean
        if mean == "rms":
            return value * value
        if mean == "conductance":
            return 1.0 / max(value, 1e-6)
        return value

    def _reading(self) -> float:
        spec = FUNCTIONS[self.function]
        average = sum(self._samples) / len(self._samples)
        if spec.mean == "rms":
            average = math.sqrt(average)
        elif spec.mean == "conductance":
            average = math.inf if average < 1e-9 else 1.0 / average
        if abs(average) > _BEYOND_RANGE * self.range_top:
            return math.copysign(math.inf, average)
        counts = average * self._gain[self.function] / spec.count + self._random.gauss(
            0.0, self._noise_counts
        )
        if spec.mean == "rms":
            counts = max(0.0, counts)
        return round(counts) * spec.count
