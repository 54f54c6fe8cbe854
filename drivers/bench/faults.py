"""What can be wrong with the machine on the bench, as numbers that the physics uses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

__all__ = ["FAULTS", "Condition", "condition_named"]


@dataclass(frozen=True)
class Condition:
    """The state of every part; the defaults are a healthy machine."""

    name: str = "healthy"
    magnet_strength: float = 1.0
    """Flux against that of good magnets."""
    winding_open: bool = False
    joint_opens_per_s: float = 0.0
    """How often a loose joint opens while the engine shakes it."""
    shorted_share: float = 0.0
    """Share of the turns that is shorted on itself."""
    ground_at_share: float | None = None
    """Where along the winding it touches the engine block (0 to 1); None: nowhere."""
    regulator_dead: bool = False
    diode_open: bool = False
    governor_limit_rpm: float | None = None
    """Highest speed the governor lets the engine reach; None: whatever is set."""
    connector_ohm: float = 0.0
    """What a bad connector adds to the wires from the regulator-rectifier to the battery."""
    fuse_blown: bool = False
    worn_ohm_ah: float = 0.0
    """What wear adds to the battery's resistance, times its capacity when new: a larger battery has more plates."""
    capacity_left: float = 1.0
    """Share of the battery's capacity that is left."""
    extra_loads_a: Mapping[str, float] = field(default_factory=dict)
    """Connected beyond what belongs on the machine: name and amps."""


_HEALTHY = Condition()

FAULTS: dict[str, Condition] = {
    condition.name: condition
    for condition in (
        _HEALTHY,
        replace(_HEALTHY, name="open_winding", winding_open=True),
        replace(_HEALTHY, name="intermittent_joint", joint_opens_per_s=0.3),
        replace(_HEALTHY, name="weak_magnets", magnet_strength=16.5 / 28.0),
        replace(_HEALTHY, name="shorted_turns", shorted_share=0.15),
        replace(_HEALTHY, name="grounded_stator", ground_at_share=0.35),
        replace(_HEALTHY, name="dead_regulator", regulator_dead=True),
        replace(_HEALTHY, name="open_diode", diode_open=True),
        replace(_HEALTHY, name="low_governed_speed", governor_limit_rpm=3150.0),
        replace(_HEALTHY, name="overloaded", extra_loads_a={"second_pump": 8.0}),
        replace(_HEALTHY, name="bad_connector", connector_ohm=0.25),
        replace(_HEALTHY, name="blown_fuse", fuse_blown=True),
        replace(_HEALTHY, name="worn_battery", worn_ohm_ah=4.5, capacity_left=0.25),
    )
}


def condition_named(name: str) -> Condition:
    """The condition of that name.

    Raises:
        ValueError: naming the faults there are.
    """
    if name not in FAULTS:
        raise ValueError(f"There is no fault {name!r}; there are: {', '.join(FAULTS)}.")
    return FAULTS[name]
