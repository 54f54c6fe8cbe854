"""Readings that can't be true beside each other: named, kept, not judged.

Each may be true alone; together they say that leads are reversed, that one of
them was read elsewhere, or that a digit slipped.
"""

from __future__ import annotations

from collections.abc import Mapping

from msgspec.structs import replace

from daq.job.evidence.observed import Observed
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.words import as_read

__all__ = ["checked_together"]

_SURE = 2.0
"""Standard uncertainties: what lies within may be chance."""
_ROSE_V = 0.25
"""At a 12 V battery; under that, surface charge may lift the volts of one that loses (common practice, no source)."""
_TRICKLE_A = 0.5
"""Out of a battery whose volts are held: less may be a full one and the meter's zero (common practice, no source)."""
_MORE_SHARE = 1.5
_MORE_A = 2.0
"""Beyond the loads' amps by half and 2 A: ignition, field, and loads that draw more (common practice, no source)."""


def checked_together(readings: Mapping[str, Observed], nominal_v: float) -> dict[str, Observed]:
    """The readings by slot, those that can't be true beside another one with the trouble said.

    Args:
        readings: by slot.
        nominal_v: the battery's nominal volts.
    """
    usable = {name: each for name, each in readings.items() if each.usable and each.value is not None}
    said = {**_less_than_leads(usable), **_reversed(usable, nominal_v), **_more_than_loads(usable)}
    found = dict(readings)
    for name, text in said.items():
        trouble = Trouble(TroubleKind.CANNOT_BE_TRUE, f"{text} Kept, not judged.")
        found[name] = replace(readings[name], troubles=(trouble,))
    return found


def _value(readings: Mapping[str, Observed], name: str) -> tuple[float, float] | None:
    found = readings.get(name)
    return None if found is None or found.value is None else (found.value, found.u)


def _said(observed: Observed, unit: str, *, sign: bool = True) -> str:
    value = observed.value or 0.0
    return as_read(value if sign else abs(value), observed.digit, unit)


def _drawn(readings: Mapping[str, Observed]) -> str:
    """The loads' amps; an ammeter the other way round reads them with a minus."""
    return _said(readings["load_current"], "A", sign=False)


def _less_than_leads(readings: Mapping[str, Observed]) -> dict[str, str]:
    lead, winding = readings.get("lead_resistance"), readings.get("winding_resistance")
    if lead is None or winding is None or lead.value is None or winding.value is None:
        return {}
    # The meter's fixed error is in both and falls out.
    u = (winding.u_without_counts() ** 2 + lead.u_without_counts() ** 2) ** 0.5
    if winding.value - lead.value >= -_SURE * u:
        return {}
    text = (
        f"The leads read more ({_said(lead, 'ohm')}) than the winding with them ({_said(winding, 'ohm')}), which "
        "can't be true: read both again, the tips pressed on bare metal."
    )
    return {"lead_resistance": text, "winding_resistance": text}


def _more_than_loads(readings: Mapping[str, Observed]) -> dict[str, str]:
    loads = _value(readings, "load_current")
    if loads is None:
        return {}
    most = _MORE_SHARE * (abs(loads[0]) + _SURE * loads[1]) + _MORE_A
    return {
        name: (
            f"{_said(readings[name], 'A')} out of the battery, while the loads draw {_drawn(readings)} in all, "
            "can't be true: check range and decimal point, and read again."
        )
        for name in ("current_work", "current_idle")
        if (current := _value(readings, name)) is not None and current[0] + _SURE * current[1] < -most
    }


def _reversed(readings: Mapping[str, Observed], nominal_v: float) -> dict[str, str]:
    current = _value(readings, "current_work")
    if current is None or current[0] + _SURE * current[1] >= -_TRICKLE_A:
        return {}
    why = _mirrored(readings, current) or _risen(readings, nominal_v)
    if not why:
        return {}
    text = (
        f"{_said(readings['current_work'], 'A')} for amps into the battery at test speed can't be true, {why}: the "
        "ammeter may be reversed; stop the engine, turn its leads around and read again."
    )
    return {"current_work": text}


def _risen(readings: Mapping[str, Observed], nominal_v: float) -> str:
    rest, work = _value(readings, "rest_voltage"), _value(readings, "voltage_work")
    if rest is None or work is None:
        return ""
    rise, u = work[0] - rest[0], (work[1] ** 2 + rest[1] ** 2) ** 0.5
    if rise - _SURE * u < _ROSE_V * nominal_v / 12.0:
        return ""
    return f"while the battery's volts stand {rise:.2f} V over those at rest"


def _mirrored(readings: Mapping[str, Observed], current: tuple[float, float]) -> str:
    """The regulator-rectifier gives more than the loads take, by as much as seems to leave the battery."""
    output, loads = _value(readings, "output_current"), _value(readings, "load_current")
    if output is None or loads is None:
        return ""
    spare = abs(output[0]) - abs(loads[0])
    u = (output[1] ** 2 + loads[1] ** 2 + (0.1 * loads[0]) ** 2 / 3.0) ** 0.5
    if spare - _SURE * u <= 0.0 or abs(spare + current[0]) > _SURE * (u**2 + current[1] ** 2) ** 0.5:
        return ""
    given = _said(readings["output_current"], "A", sign=False)
    return f"while the regulator-rectifier gives {given} and the loads take only {_drawn(readings)}"
