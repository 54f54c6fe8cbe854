"""One winding into diodes, stepped through until every cycle is like the one before."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["AT_REST", "Branch", "Wave", "settle"]

_STEPS_PER_CYCLE = 240
_MOST_CYCLES = 80
_SETTLED = 2e-4


@dataclass(frozen=True)
class Branch:
    """A sine source behind a resistance and an inductance, and what its current runs into either way.

    A direction that can't conduct has None. A conducting direction holds the
    branch's terminals at ``volts + ohm·|i|``.
    """

    emf_rms_v: float
    frequency_hz: float
    resistance_ohm: float
    inductance_h: float
    forward: tuple[float, float] | None
    """(volts, ohm) against a positive current."""
    backward: tuple[float, float] | None
    """(volts, ohm) against a negative current."""


@dataclass(frozen=True)
class Wave:
    """What one settled cycle amounts to."""

    forward_mean_a: float
    """Positive current only, averaged over the whole cycle."""
    backward_mean_a: float
    """Negative current only, as a positive number, averaged over the whole cycle."""
    forward_rms_a: float
    backward_rms_a: float
    terminal_rms_v: float

    @property
    def current_rms_a(self) -> float:
        """Both directions together."""
        return math.hypot(self.forward_rms_a, self.backward_rms_a)


AT_REST = Wave(0.0, 0.0, 0.0, 0.0, 0.0)
"""Nothing turns."""


def settle(branch: Branch) -> Wave:
    """The settled cycle of a branch.

    Each step takes the source as constant over the step and the rest exactly
    (an exponential), with the current stopped at zero where it would reverse;
    only the other pair of diodes may then take over.
    """
    if branch.emf_rms_v <= 0.0 or branch.frequency_hz <= 0.0:
        return AT_REST
    current_a, before = 0.0, AT_REST
    for _ in range(_MOST_CYCLES):
        current_a, wave = _cycle(branch, current_a)
        change = abs(wave.current_rms_a - before.current_rms_a)
        if change <= _SETTLED * wave.current_rms_a:
            return wave
        before = wave
    return before


def _cycle(branch: Branch, current_a: float) -> tuple[float, Wave]:
    forward = backward = forward_a2 = backward_a2 = squares_v2 = 0.0
    for emf_v, decay_step_s in _source(branch):
        terminal_v, mean_a, current_a = _advance(branch, emf_v, current_a, decay_step_s)
        if mean_a > 0.0:
            forward += mean_a
            forward_a2 += mean_a * mean_a
        else:
            backward -= mean_a
            backward_a2 += mean_a * mean_a
        squares_v2 += terminal_v * terminal_v
    n = _STEPS_PER_CYCLE
    rms = [math.sqrt(squares / n) for squares in (forward_a2, backward_a2, squares_v2)]
    return current_a, Wave(forward / n, backward / n, *rms)


def _source(branch: Branch) -> Iterator[tuple[float, float]]:
    peak_v = math.sqrt(2.0) * branch.emf_rms_v
    step_s = 1.0 / branch.frequency_hz / _STEPS_PER_CYCLE
    for k in range(_STEPS_PER_CYCLE):
        yield peak_v * math.sin(math.tau * (k + 0.5) / _STEPS_PER_CYCLE), step_s


def _advance(branch: Branch, emf_v: float, current_a: float, dt_s: float) -> tuple[float, float, float]:
    """Terminal volts and current, averaged over the step, and the current at its end.

    Where the current ends within the step, the rest of the step starts from nothing.
    """
    sign = _direction(branch, emf_v, current_a)
    way = branch.forward if sign > 0 else branch.backward
    if sign == 0 or way is None:
        return emf_v, 0.0, 0.0
    volts, ohm = way
    total_ohm = branch.resistance_ohm + ohm
    settled_a = (emf_v - sign * volts) / total_ohm
    after_a = settled_a + (current_a - settled_a) * math.exp(-dt_s * total_ohm / branch.inductance_h)
    if after_a * sign >= 0.0:
        mean_a = 0.5 * (current_a + after_a)
        return sign * volts + ohm * mean_a, mean_a, after_a
    till_zero = current_a / (current_a - after_a)
    terminal_v, mean_a, after_a = _advance(branch, emf_v, 0.0, dt_s * (1.0 - till_zero))
    before_a = 0.5 * current_a
    return (
        till_zero * (sign * volts + ohm * before_a) + (1.0 - till_zero) * terminal_v,
        till_zero * before_a + (1.0 - till_zero) * mean_a,
        after_a,
    )


def _direction(branch: Branch, emf_v: float, current_a: float) -> int:
    if current_a != 0.0:
        return 1 if current_a > 0.0 else -1
    if branch.forward is not None and emf_v > branch.forward[0]:
        return 1
    if branch.backward is not None and -emf_v > branch.backward[0]:
        return -1
    return 0
