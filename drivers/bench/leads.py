"""What the meter's leads are on, and what stands there."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["LEADS", "PLUGGED_IN", "Quantities", "Standing", "value_at"]


@dataclass(slots=True)
class Standing:
    """The machine as the leads see it, now."""

    speed_rpm: float
    frequency_hz: float
    stator_open_v: float
    """Between the unplugged stator leads, rms."""
    stator_loaded_v: float
    """Between the plugged-in stator leads, rms."""
    stator_loaded_dc_v: float
    """The same, mean."""
    stator_ohm: float
    """Between the unplugged stator leads; infinite when open."""
    stator_to_ground_v: float
    stator_to_ground_ohm: float
    battery_v: float
    ripple_v: float
    """AC part of the volts at the battery's posts, rms."""
    battery_a: float
    """Into the battery; negative out of it."""
    rectified_a: float
    load_a: float
    wiring_ohm: float
    """From the regulator-rectifier to the battery."""
    fuse_blown: bool = False
    lamp_open_v: float = 0.0
    """Across the lamp winding's leads, unplugged, rms."""
    lamp_lit_v: float = 0.0
    """The same with the lamps on it."""
    lamp_winding_ohm: float = math.inf
    lead_ohm: float = 0.02
    """The meter's own leads: they are in every reading of ohms."""

    @property
    def output_terminal_v(self) -> float:
        """At the regulator-rectifier's output terminal; with the fuse blown nothing is there."""
        return 0.0 if self.fuse_blown else self.battery_v + self.wiring_ohm * self.rectified_a


_LEAST_COUNTED_V = 0.3
"""Below this a meter can't count the waves."""

_FUSE_OHM = 0.01

Quantities = dict[str, Callable[[Standing], float]]

_NOTHING: Quantities = {}


def _voltage(alternating: Callable[[Standing], float], direct: Callable[[Standing], float]) -> Quantities:
    return {
        "VOLT:AC": alternating,
        "VOLT": direct,
        "FREQ": lambda s: s.frequency_hz if alternating(s) > _LEAST_COUNTED_V else 0.0,
    }


def _zero(_: Standing) -> float:
    return 0.0


def _ohm(value: Callable[[Standing], float]) -> Callable[[Standing], float]:
    """Ohms can be read on a dead circuit only; a running one drives the meter over range."""
    return lambda s: value(s) + s.lead_ohm if s.speed_rpm == 0.0 else math.inf


def _current(value: Callable[[Standing], float]) -> Quantities:
    return {"CURR": value, "CURR:AC": _zero, "VOLT": _zero, "VOLT:AC": _zero, "RES": lambda s: 0.02}


LEADS: dict[str, Quantities] = {
    # across the two stator leads, unplugged from the regulator-rectifier
    "stator": {**_voltage(lambda s: s.stator_open_v, _zero), "RES": _ohm(lambda s: s.stator_ohm)},
    # across the two stator leads, plugged in
    "stator_loaded": _voltage(lambda s: s.stator_loaded_v, lambda s: s.stator_loaded_dc_v),
    # one stator lead, unplugged, to the engine block
    "stator_to_ground": {
        **_voltage(lambda s: s.stator_to_ground_v, _zero),
        "RES": _ohm(lambda s: s.stator_to_ground_ohm),
    },
    # across the leads of the lamps' own winding, unplugged from the lamps
    "lamp_stator": {**_voltage(lambda s: s.lamp_open_v, _zero), "RES": _ohm(lambda s: s.lamp_winding_ohm)},
    # across the lamps, lit
    "lamps": _voltage(lambda s: s.lamp_lit_v, _zero),
    # across the battery's posts
    "battery": _voltage(lambda s: s.ripple_v, lambda s: s.battery_v),
    # in series with the battery's positive lead; positive is charging
    "battery_current": _current(lambda s: s.battery_a),
    # in series with the regulator-rectifier's output
    "rectifier_current": _current(lambda s: s.rectified_a),
    # in series with everything that draws
    "load_current": _current(lambda s: s.load_a),
    # from the regulator-rectifier's output to the battery's positive post
    "wiring": _voltage(_zero, lambda s: s.output_terminal_v - s.battery_v),
    # from the regulator-rectifier's output terminal to the battery's negative post, ignition on
    "output_terminal": _voltage(_zero, lambda s: s.output_terminal_v),
    # across the charging fuse, out of its holder
    "fuse": {"RES": _ohm(lambda s: math.inf if s.fuse_blown else _FUSE_OHM)},
    # lying on the bench, touching each other
    "shorted": {"VOLT:AC": _zero, "VOLT": _zero, "RES": lambda s: s.lead_ohm, "FREQ": _zero},
    # lying on the bench, touching nothing
    "nothing": _NOTHING,
}
"""For each place: what stands there for each function of the meter (SCPI short forms)."""

PLUGGED_IN = frozenset(LEADS) - {"stator", "stator_to_ground"}
"""Places whose measurement is made with the stator plugged in."""


def value_at(place: str, function: str, standing: Standing) -> float:
    """The true value at a place for a meter function; what isn't there is 0, or infinite for ohms."""
    source = LEADS[place].get(function)
    if source is None:
        return math.inf if function == "RES" else 0.0
    return source(standing)
