"""Amps of the alternator against speed, from the few speeds at which they were read.

Between three or more speeds straight lines join the readings. Between two only,
two shapes bracket what an alternator does: the straight line, and that of a
source held back by its own inductance, I² = a - b/n² (an e.m.f. that rises with
the speed behind a reactance that rises with it too). Their middle is taken, and
half of what lies between them counts as a limit (rectangular). Nothing is
stated beyond the speeds that were read, but a tenth.

One meter's own limit of error is in all its readings alike: it does not average
away, neither between readings of one speed nor between two speeds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from daq.job.evidence.observed import CurvePoint
from daq.job.judging.verdicts import StepVerdict, at_least, call

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
            return CurvePoint(speed_rpm, nearest.current_a, nearest.u_current_a, nearest.u_limit_a)
        below = [point for point in self.points if point.speed_rpm <= speed_rpm]
        above = [point for point in self.points if point.speed_rpm > speed_rpm]
        if not below or not above:
            doubt = 0.5 * abs(nearest.current_a) * abs(nearest.speed_rpm - speed_rpm) / speed_rpm
            u_beyond = (nearest.u_current_a**2 + doubt**2) ** 0.5
            return CurvePoint(speed_rpm, nearest.current_a, u_beyond, nearest.u_limit_a)
        return self._between(below[-1], above[0], speed_rpm)

    def _between(self, low: CurvePoint, high: CurvePoint, speed_rpm: float) -> CurvePoint:
        part = (speed_rpm - low.speed_rpm) / (high.speed_rpm - low.speed_rpm)
        straight = low.current_a + part * (high.current_a - low.current_a)
        u, u_limit = _together((low, 1.0 - part), (high, part))
        if len(self.points) > 2:
            return CurvePoint(speed_rpm, straight, u, u_limit)
        held_back = _held_back(low, high, speed_rpm)
        half = 0.5 * abs(held_back - straight)
        return CurvePoint(speed_rpm, 0.5 * (held_back + straight), (u**2 + half**2 / 3.0) ** 0.5, u_limit)

    def break_even(self, drawn_a: float, u_drawn_a: float) -> BreakEven:
        """The lowest speed at which the output reaches what is drawn."""
        if not self.points:
            return BreakEven(None, 0.0, "The output was not read at any speed.")
        first, last = self.points[0], self.points[-1]
        at_first, at_last = (_gains(point, drawn_a, u_drawn_a) for point in (first, last))
        lowest = f"{first.speed_rpm:.0f} rpm, the lowest speed that was read"
        highest = f"{last.speed_rpm:.0f} rpm, the highest speed that was read"
        if first is last and at_first == "too_close":
            only = f"{first.speed_rpm:.0f} rpm, the only speed that was read"
            words = f"At {only}, whether it gains is too close to call."
        elif first.current_a > drawn_a:
            words = f"It gains already at {lowest}."
            if at_first == "too_close":
                words = f"Whether it gains already at {lowest}, is too close to call."
        elif last.current_a < drawn_a:
            words = f"It does not break even up to {highest}."
            if at_last == "too_close":
                words = f"Whether it breaks even up to {highest}, is too close to call."
        else:
            return self._crossing(drawn_a, u_drawn_a, already=at_first != "fail", never=at_last != "pass")
        return BreakEven(None, 0.0, words)

    def _crossing(self, drawn_a: float, u_drawn_a: float, *, already: bool, never: bool) -> BreakEven:
        """Where the curve crosses what is drawn; ``already`` and ``never``: that it lies beyond an end may be."""
        slow_rpm, fast_rpm = self.points[0].speed_rpm, self.points[-1].speed_rpm
        for k in range(1, _STEPS + 1):
            there = self.at(slow_rpm + (fast_rpm - slow_rpm) * k / _STEPS)
            if there is None or there.current_a < drawn_a:
                continue
            speed = there.speed_rpm
            u = (u_drawn_a**2 + there.u_current_a**2) ** 0.5 / self._rise_at(speed)
            words = f"It breaks even at {_rounded(speed)} ± {_rounded(2.0 * u)} rpm"
            if already:
                words += f", or already under {slow_rpm:.0f} rpm"
            if never:
                words += f", or not at all up to {fast_rpm:.0f} rpm"
            words += "."
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
    first, second = (weight / sum(weights) for weight in weights)
    current = first * one.current_a + second * other.current_a
    speed = first * one.speed_rpm + second * other.speed_rpm
    u, u_limit = _together((one, first), (other, second))
    # Readings that disagree by more than they state are no surer together than apart.
    apart = 0.5 * abs(one.current_a - other.current_a)
    return CurvePoint(speed, current, max(u, apart), u_limit)


def _together(*weighted: tuple[CurvePoint, float]) -> tuple[float, float]:
    """Doubt of a weighted sum of one meter's readings, and the part of it that is the meter's limit.

    The limit adds up as it is, the rest as squares (JCGM 100:2008, 5.2.2, full and no correlation).
    """
    u_limit = sum(weight * point.u_limit_a for point, weight in weighted)
    free2 = sum(weight**2 * max(0.0, point.u_current_a**2 - point.u_limit_a**2) for point, weight in weighted)
    return float((free2 + u_limit**2) ** 0.5), float(u_limit)


def _gains(point: CurvePoint, drawn_a: float, u_drawn_a: float) -> StepVerdict:
    return call(at_least(point.current_a - drawn_a, (point.u_current_a**2 + u_drawn_a**2) ** 0.5, 0.0))


def _rounded(speed_rpm: float) -> str:
    return f"{round(speed_rpm, -1):.0f}"
