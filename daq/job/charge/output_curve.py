"""Amps of the alternator against speed, from the few speeds at which they were read.

Between three or more speeds straight lines join the readings. Between two only,
two shapes bracket what an alternator does: the straight line, and that of a
source held back by its own inductance, I² = a - b/n² (an e.m.f. that rises with
the speed behind a reactance that rises with it too). Their middle is taken, and
half of what lies between them counts as a limit (rectangular). Nothing is
stated beyond the speeds that were read, but a tenth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from daq.job.evidence.observed import CurvePoint

__all__ = ["BreakEven", "OutputCurve"]

_BEYOND = 0.1
_TOGETHER_SHARE = 0.03
_STEPS = 400


@dataclass(frozen=True)
class BreakEven:
    """The speed at which the output equals what is drawn."""

    speed_rpm: float | None
    u_speed_rpm: float
    words: str


class OutputCurve:
    """The points, one for each speed that was held, in order of speed."""

    def __init__(self, points: Sequence[CurvePoint]) -> None:
        self.points = _merged(points)

    @property
    def slowest_rpm(self) -> float:
        """Lowest speed of which anything is stated."""
        return self.points[0].speed_rpm * (1.0 - _BEYOND)

    @property
    def fastest_rpm(self) -> float:
        """Highest speed of which anything is stated."""
        return self.points[-1].speed_rpm * (1.0 + _BEYOND)

    def at(self, speed_rpm: float) -> CurvePoint | None:
        """Amps at a speed; None where it lies too far from what was read."""
        if not self.points or not self.slowest_rpm <= speed_rpm <= self.fastest_rpm:
            return None
        nearest = min(self.points, key=lambda point: abs(point.speed_rpm - speed_rpm))
        if abs(nearest.speed_rpm - speed_rpm) <= _TOGETHER_SHARE * speed_rpm:
            # As good as read there: what a few percent of speed can do is within the doubt of the shape.
            return CurvePoint(speed_rpm, nearest.current_a, nearest.u_current_a)
        below = [point for point in self.points if point.speed_rpm <= speed_rpm]
        above = [point for point in self.points if point.speed_rpm > speed_rpm]
        if not below or not above:
            doubt = 0.5 * abs(nearest.current_a) * abs(nearest.speed_rpm - speed_rpm) / speed_rpm
            return CurvePoint(speed_rpm, nearest.current_a, (nearest.u_current_a**2 + doubt**2) ** 0.5)
        return self._between(below[-1], above[0], speed_rpm)

    def _between(self, low: CurvePoint, high: CurvePoint, speed_rpm: float) -> CurvePoint:
        part = (speed_rpm - low.speed_rpm) / (high.speed_rpm - low.speed_rpm)
        straight = low.current_a + part * (high.current_a - low.current_a)
        u = ((1.0 - part) ** 2 * low.u_current_a**2 + part**2 * high.u_current_a**2) ** 0.5
        if len(self.points) > 2:
            return CurvePoint(speed_rpm, straight, u)
        held_back = _held_back(low, high, speed_rpm)
        half = 0.5 * abs(held_back - straight)
        return CurvePoint(speed_rpm, 0.5 * (held_back + straight), (u**2 + half**2 / 3.0) ** 0.5)

    def break_even(self, drawn_a: float, u_drawn_a: float) -> BreakEven:
        """The lowest speed at which the output reaches what is drawn."""
        if not self.points:
            return BreakEven(None, 0.0, "The output was not read at any speed.")
        first, last = self.points[0], self.points[-1]
        if first.current_a > drawn_a:
            words = f"It gains already at {first.speed_rpm:.0f} rpm, the lowest speed that was read."
            return BreakEven(None, 0.0, words)
        if last.current_a < drawn_a:
            words = f"It does not break even up to {last.speed_rpm:.0f} rpm, the highest speed that was read."
            return BreakEven(None, 0.0, words)
        if first is last:
            words = f"It just breaks even at {first.speed_rpm:.0f} rpm, the only speed that was read."
            return BreakEven(None, 0.0, words)
        return self._crossing(first.speed_rpm, last.speed_rpm, drawn_a, u_drawn_a)

    def _crossing(self, slow_rpm: float, fast_rpm: float, drawn_a: float, u_drawn_a: float) -> BreakEven:
        for k in range(1, _STEPS + 1):
            there = self.at(slow_rpm + (fast_rpm - slow_rpm) * k / _STEPS)
            if there is None or there.current_a < drawn_a:
                continue
            speed = there.speed_rpm
            u = (u_drawn_a**2 + there.u_current_a**2) ** 0.5 / self._rise_at(speed)
            words = f"It breaks even at {_rounded(speed)} ± {_rounded(2.0 * u)} rpm."
            return BreakEven(speed, u, words)
        return BreakEven(None, 0.0, "The speed at which it breaks even can't be told.")

    def _rise_at(self, speed_rpm: float) -> float:
        """Amps by which the output rises for each rpm, over a fifth of the range around a speed."""
        first, last = self.points[0].speed_rpm, self.points[-1].speed_rpm
        reach = 0.1 * (last - first)
        slow, fast = max(first, speed_rpm - reach), min(last, speed_rpm + reach)
        low, high = self.at(slow), self.at(fast)
        if low is None or high is None:
            return 1e-9
        return max((high.current_a - low.current_a) / (fast - slow), 1e-9)


def _held_back(low: CurvePoint, high: CurvePoint, speed_rpm: float) -> float:
    """I² = a - b/n² through two points."""
    x_low, x_high, x = (1.0 / n**2 for n in (low.speed_rpm, high.speed_rpm, speed_rpm))
    squares = [max(point.current_a, 0.0) ** 2 for point in (low, high)]
    square = squares[1] + (squares[0] - squares[1]) * (x - x_high) / (x_low - x_high)
    return float(max(square, 0.0) ** 0.5)


def _merged(points: Sequence[CurvePoint]) -> tuple[CurvePoint, ...]:
    """Points of the same speed, within 3 %, become one, weighted by their certainty."""
    merged: list[CurvePoint] = []
    for point in sorted(points, key=lambda each: each.speed_rpm):
        last = merged[-1] if merged else None
        if last is not None and point.speed_rpm - last.speed_rpm <= _TOGETHER_SHARE * point.speed_rpm:
            merged[-1] = _mean(last, point)
        else:
            merged.append(point)
    return tuple(merged)


def _mean(one: CurvePoint, other: CurvePoint) -> CurvePoint:
    weights = [1.0 / max(point.u_current_a, 1e-3) ** 2 for point in (one, other)]
    total = sum(weights)
    current = (weights[0] * one.current_a + weights[1] * other.current_a) / total
    speed = (weights[0] * one.speed_rpm + weights[1] * other.speed_rpm) / total
    # Readings that disagree by more than they state are no surer together than apart.
    apart = 0.5 * abs(one.current_a - other.current_a)
    return CurvePoint(speed, current, max(float((1.0 / total) ** 0.5), apart))


def _rounded(speed_rpm: float) -> str:
    return f"{round(speed_rpm, -1):.0f}"
