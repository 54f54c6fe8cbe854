"""Whether two runs that are compared were both taken unloaded, as far as their readings show.

Only unloaded volts say something of the alternator: a load or a regulator that is
connected in one run and not in the other makes a change that no repair made. Amps,
a battery at charging height, and volts that stand still or do not follow the speed
show it. From one steady speed it can't be told, and a load of plain resistance holds
the volts down in proportion.
"""

from __future__ import annotations

from typing import NamedTuple

from daq.run.load_signs import ZERO_A, load_signs
from daq.run.recorded import RecordedRun

__all__ = ["LoadsCompared", "loads_compared"]

_REPEAT = (
    "record both with the alternator's AC leads unplugged from everything, for unloaded volts are the test"
)
_BENT_SHARE, _SAG = 0.02, 0.015
"""A line that misses zero by more than this share of the output, or a sag over that: as ``result`` tells them."""


class LoadsCompared(NamedTuple):
    """What two runs show of what was connected."""

    differ: bool | None
    """One run shows a load and the other does not; False: both show volts in proportion; None: it can't be told."""
    said: str
    """What is to be told of it; "" where nothing is."""


class _Seen(NamedTuple):
    name: str
    load: str
    """What shows that something was connected; "" for nothing."""
    unknown: str
    """Why it can't be told though nothing shows; "" where the volts are in proportion."""


def loads_compared(before: RecordedRun, after: RecordedRun, *, significant: bool | None) -> LoadsCompared:
    """Hold what two runs show of a load against each other.

    Args:
        before: the first run.
        after: the second.
        significant: whether a change between them is stated that is more than chance; without one only a load
            that shows is told.
    """
    seen = (_seen("before", before), _seen("after", after))
    loaded = [each for each in seen if each.load]
    if len(loaded) == 2:
        shown = f"before {seen[0].load}, after {seen[1].load}"
        return LoadsCompared(None, f"Something was connected in both runs: {shown}. To compare, {_REPEAT}.")
    if loaded:
        (one,) = loaded
        other = next(each.name for each in seen if not each.load)
        return LoadsCompared(
            True,
            f"The loads differ: in the run {one.name} {one.load}, in the run {other} nothing shows that. Volts under "
            f"load are lower, so this is no change of the alternator: {_REPEAT}.",
        )
    unknown = [each for each in seen if each.unknown]
    if unknown:
        return LoadsCompared(None, _untold(unknown) if significant else "")
    said = (
        "In both runs the volts are in proportion to speed, as unloaded volts are; only a load of plain resistance, "
        "such as a lamp on the AC leads, would not show: see that there was none in either."
    )
    return LoadsCompared(False, said if significant else "")


def _untold(unknown: list[_Seen]) -> str:
    if len(unknown) == 2 and unknown[0].unknown == unknown[1].unknown:
        names, why = "either run", f"both {unknown[0].unknown}"
    else:
        names = " or ".join(f"the run {each.name}" for each in unknown)
        why = "; ".join(f"the run {each.name} {each.unknown}" for each in unknown)
    return (
        f"Whether something was connected in {names} can't be told: {why}. A load or a regulator that is connected in "
        f"one run only makes such a change too: see that the AC leads were unplugged in both; one sweep up and down "
        "would show it."
    )


def _seen(name: str, run: RecordedRun) -> _Seen:
    analysis = run.analysis()
    output, pairing = analysis.output, analysis.pairing
    if pairing is not None:
        signs = load_signs(run.data, pairing)
        if signs.load_current_a is not None and abs(signs.load_current_a) > ZERO_A:
            return _Seen(name, f"{abs(signs.load_current_a):.1f} A loaded the alternator", "")
        if signs.charging:
            return _Seen(name, f"the battery stood at {signs.battery_v:.1f} V, as when it is charged", "")
    if output is None:
        return _Seen(name, "", "states no output")
    p, value = output.proportion, abs(output.rated_voltage_v)
    if p.held_v is not None:
        return _Seen(name, f"the volts stay at about {p.held_v:.1f} V while the speed goes on rising", "")
    if p.line is None:
        return _Seen(name, "", "stayed near one speed")
    bent = abs(p.line.offset) > max(3.0 * p.line.u_offset, _BENT_SHARE * value)
    sags = p.sag is not None and p.u_sag is not None and p.sag > max(3.0 * p.u_sag, _SAG)
    return _Seen(name, "", "has volts that bend away from proportion" if bent or sags else "")
