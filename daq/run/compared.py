"""Two recorded runs side by side, also where one of them states no output: what can be compared all the same."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec
import numpy as np
from numpy.typing import NDArray

from daq.cards.machine import MachineCard
from daq.locking import writer_alive
from daq.model.counted import counted
from daq.model.quantity import Quantity
from daq.run.compared_loads import loads_compared
from daq.run.recorded import RecordedRun
from daq.verdict.change import Change, compare_results
from daq.verdict.result import Result

__all__ = ["compare_recorded"]

Floats = NDArray[np.float64]

_NEAR_SHARE = 0.025
"""Half width of what counts as one speed, as a share of it."""
_LEAST_ROWS = 3
_SAME_SHARE = 0.03
_SPEEDS = frozenset({Quantity.ROTATIONAL_SPEED, Quantity.REVOLUTIONS})


class _Side(NamedTuple):
    name: str
    run: RecordedRun
    result: Result


def compare_recorded(before: RecordedRun, after: RecordedRun) -> Change:
    """Compare two runs at rated speed; where that can't be, the reasons say why, what can be said, and what to do.

    Args:
        before: the first run.
        after: the second.
    """
    change = compare_results(before.result(), after.result())
    differ, loads = loads_compared(before, after, significant=change.significant)
    change = msgspec.structs.replace(change, same_machine=_same_machine(before, after), loads_differ=differ)
    doubts = [*_doubts(before, after), *([loads] if loads else [])]
    if change.change_V is not None:
        return msgspec.structs.replace(change, reasons=[*change.reasons[:1], *doubts, *change.reasons[1:]])
    sides = (_Side("before", before, change.before), _Side("after", after, change.after))
    said = [*change.reasons, *doubts, *_why(sides), *_known(sides), *_next(sides)]
    return msgspec.structs.replace(change, reasons=said)


def _same_machine(before: RecordedRun, after: RecordedRun) -> bool | None:
    """By their own cards, whatever card they are judged by."""
    first, second = before.recording.machine, after.recording.machine
    if first is None or second is None:
        return None
    return (first.name, first.title) == (second.name, second.title)


def _doubts(before: RecordedRun, after: RecordedRun) -> Iterator[str]:
    """What the two are that makes the change mean less than it seems to."""
    first, second = before.recording.machine, after.recording.machine
    if first is not None and second is not None and _same_machine(before, after) is False:
        yield (
            f"The machines differ, {_named(first, second)} before and {_named(second, first)} after: this is the "
            "difference between two machines, not what a repair did."
        )
    for name, run in (("before", before), ("after", after)):
        if run.recording.close is None and writer_alive(run.recording.path):
            yield f"The run {name} is still being recorded: what it states can change until it is closed."


def _named(card: MachineCard, other: MachineCard) -> str:
    return f"“{card.title}”" if card.title != other.title else f"“{card.title}” ({card.name})"


def _silent(sides: tuple[_Side, _Side]) -> tuple[_Side, ...]:
    return tuple(side for side in sides if side.result.rated_voltage_V is None)


def _why(sides: tuple[_Side, _Side]) -> Iterator[str]:
    for side in _silent(sides):
        for reason in side.result.reasons[:1]:
            yield f"Why the run {side.name} states none: {reason}"


def _known(sides: tuple[_Side, _Side]) -> Iterator[str]:
    """What the two have in common, in numbers."""
    found = [*_limits(sides), *_speeds(sides), *_volts(sides), *_others(sides)]
    if found:
        yield from found
    else:
        yield "The two runs have no quantity in common that could be put side by side."


def _limits(sides: tuple[_Side, _Side]) -> Iterator[str]:
    for side in sides:
        volts, least = side.result.rated_voltage_V, side.result.minimum_V
        if volts is None:
            continue
        expanded = side.result.expanded_uncertainty_V or 0.0
        unknown = " at least," if side.result.unknown_errors else ""
        limit = (
            ""
            if least is None
            else f" against a limit of {least:g} V: {side.result.verdict.replace('_', ' ')}"
        )
        yield f"The run {side.name} alone: {volts:.2f} V ± {expanded:.2f} V{unknown} at rated speed{limit}."


def _speeds(sides: tuple[_Side, _Side]) -> Iterator[str]:
    spans = []
    for side in sides:
        speed = side.run.data.speed
        if speed is None or speed.entry.quantity is not Quantity.ROTATIONAL_SPEED or not speed.usable.any():
            return
        low, high = np.percentile(speed.value[speed.usable], [2.0, 98.0])
        spans.append(f"{low:.0f} to {high:.0f} rpm {side.name}")
    yield f"Speed: {', '.join(spans)}."


def _volts(sides: tuple[_Side, _Side]) -> Iterator[str]:
    """Volts as read where both ran at one speed: the highest of those, which is the nearest to rated speed."""
    rows = [_usable(side.run) for side in sides]
    if any(len(speed) < _LEAST_ROWS for speed, _ in rows):
        if all(side.run.data.volts is not None for side in sides):
            yield "Their AC volts can't be put side by side: too few have their speed."
        return
    rated = next((s.result.rated_speed_rpm for s in sides if s.result.rated_speed_rpm is not None), None)
    at = _common_speed(rows[0][0], rows[1][0], rated)
    if at is None:
        yield "Their AC volts can't be put side by side: the two never ran at one speed."
        return
    (first, n_first), (second, n_second) = (_at(speed, volts, at) for speed, volts in rows)
    way = "about the same"
    if abs(second - first) > _SAME_SHARE * max(abs(first), abs(second)):
        way = "higher after" if second > first else "lower after"
    counts = counted(n_first, "reading"), counted(n_second, "reading")
    yield (
        f"AC volts as read near {at:.0f} rpm: {first:.2f} V before ({counts[0]}), {second:.2f} V after ({counts[1]}), "
        f"{way}. That is a hint and no proof: nothing says whether a load was connected, and no "
        "uncertainty goes with it."
    )


def _usable(run: RecordedRun) -> tuple[Floats, Floats]:
    rows = run.analysis().rows
    keep = np.isfinite(rows.speed_rpm) & np.isfinite(rows.voltage_V) & (rows.speed_rpm > 0.0)
    return rows.speed_rpm[keep], rows.voltage_V[keep]


def _common_speed(one: Floats, other: Floats, rated_rpm: float | None) -> float | None:
    """A speed at which both have readings enough: the nearest to rated speed, or the highest."""
    both = [
        float(speed)
        for speed in np.unique(np.round(np.concatenate((one, other)), -1))
        if speed > 0.0 and min(_count(one, speed), _count(other, speed)) >= _LEAST_ROWS
    ]
    if not both:
        return None
    return max(both) if rated_rpm is None else min(both, key=lambda speed: abs(speed - rated_rpm))


def _count(speed_rpm: Floats, at_rpm: float) -> int:
    return int(np.sum(np.abs(speed_rpm - at_rpm) <= _NEAR_SHARE * at_rpm))


def _at(speed_rpm: Floats, volts: Floats, at_rpm: float) -> tuple[float, int]:
    near = np.abs(speed_rpm - at_rpm) <= _NEAR_SHARE * at_rpm
    return float(np.median(volts[near])), int(near.sum())


def _others(sides: tuple[_Side, _Side]) -> Iterator[str]:
    """Other quantities that both recorded, by the middle of their readings."""
    for quantity in Quantity:
        if quantity in _SPEEDS or quantity is Quantity.AC_VOLTAGE:
            continue
        channels = [side.run.data.first(quantity) for side in sides]
        middles = [
            float(np.median(channel.value[channel.usable]))
            for channel in channels
            if channel is not None and channel.usable.any()
        ]
        if len(middles) == len(sides):
            name = quantity.value.replace("_", " ").replace("ac ", "AC ").replace("dc ", "DC ")
            yield (
                f"The middle of all {name} readings: {middles[0]:.4g} {quantity.unit} before, {middles[1]:.4g} "
                f"{quantity.unit} after; no uncertainty goes with it."
            )


def _next(sides: tuple[_Side, _Side]) -> Iterator[str]:
    silent = _silent(sides)
    if not silent:
        return
    if any(side.result.rated_speed_rpm is None for side in sides):
        yield "What to do: name the machine card with --machine, so that the rated speed is known."
        return
    names = " and the run ".join(side.name for side in silent)
    yield (
        f"What to do: record the run {names} again with the stator unplugged from everything, the meter on its AC "
        "volts and the tach on its mark; hold rated speed for ten seconds, and make one slow sweep."
    )
    if silent[0].name == "before":
        yield (
            "If the machine was repaired meanwhile, the run before can't be had again: then the run after is held "
            "against its limit alone."
        )
