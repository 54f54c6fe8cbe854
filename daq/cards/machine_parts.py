"""What a machine card says beside the alternator's output: its kind, battery, loads, and duty."""

from __future__ import annotations

from enum import Enum
from typing import Literal

import msgspec

__all__ = ["AlternatorClass", "BatteryCard", "Chemistry", "DutyCard", "LoadCard", "within"]

Chemistry = Literal["flooded", "agm", "gel", "lithium", "other"]
_LEAD_ACID = frozenset({"flooded", "agm", "gel"})
_KINDS = {
    "flooded": "flooded",
    "agm": "AGM",
    "gel": "gel",
    "lithium": "lithium",
    "other": "no lead-acid battery",
}


class AlternatorClass(Enum):
    """How the alternator's output is brought out; ``value`` is its name in cards."""

    AC_ONLY = "ac_only"
    """AC straight to the loads, such as lamps; nothing is charged."""
    DC_ONLY = "dc_only"
    """DC through a diode in its lead; no regulator."""
    REGULATED = "regulated"
    """AC to a separate regulator-rectifier, which charges the battery."""
    SPLIT = "split"
    """Two circuits: one charges through a diode or a regulator-rectifier, one gives AC."""

    @property
    def words(self) -> str:
        """The class in plain words."""
        return _WORDS[self]

    @property
    def charges(self) -> bool:
        """Whether it charges a battery."""
        return self is not AlternatorClass.AC_ONLY


_WORDS = {
    AlternatorClass.AC_ONLY: "AC only",
    AlternatorClass.DC_ONLY: "DC only, through a diode in the lead",
    AlternatorClass.REGULATED: "AC with a separate regulator-rectifier",
    AlternatorClass.SPLIT: "split circuits, one charging and one AC",
}


def within(key: str, value: float | None, low: float, high: float, unit: str) -> None:
    """Raise ValueError where a value that is given lies outside its limits."""
    if value is not None and not low <= value <= high:
        raise ValueError(f"{key} = {value:g} must be from {low:g} to {high:g} {unit}".rstrip())


class BatteryCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The battery. What its label does not say stays open (None)."""

    nominal_voltage_v: Literal[6, 12, 24] = 12
    capacity_ah: float | None = None
    rated_hours: float = 20.0
    """Length of the discharge in which it gives its capacity."""
    chemistry: Chemistry | None = None
    peukert_exponent: float | None = None
    """From its maker; None: the usual one of its chemistry is taken and named."""

    @property
    def lead_acid(self) -> bool:
        """Whether the tables for lead-acid batteries hold; a battery of unknown chemistry is taken for one."""
        return self.chemistry is None or self.chemistry in _LEAD_ACID

    @property
    def kind(self) -> str:
        """Its chemistry in words; "" where it isn't known."""
        return "" if self.chemistry is None else _KINDS[self.chemistry]

    def __post_init__(self) -> None:
        within("battery.capacity_ah", self.capacity_ah, 0.5, 3000, "Ah")
        within("battery.rated_hours", self.rated_hours, 1, 120, "h")
        within("battery.peukert_exponent", self.peukert_exponent, 1.0, 1.8, "")


class LoadCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One load."""

    name: str
    current_a: float
    """What it draws while it is on."""
    share: float = 1.0
    """Share of the running time for which it is on, from 0 to 1."""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise ValueError("load.name is empty: give each load a name")
        within(f"load {self.name!r}: current_a", self.current_a, 0, 1000, "A")
        within(f"load {self.name!r}: share", self.share, 0, 1, "")

    @property
    def mean_current_a(self) -> float:
        """Current averaged over the running time."""
        return self.current_a * self.share


class DutyCard(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How the running time is shared between idling and working."""

    idle_share: float | None = None
    """Share of the running time at idle, from 0 to 1; the rest is work."""
    work_speed_rpm: float | None = None
    """Speed while working; None: the rated test speed."""

    def __post_init__(self) -> None:
        within("duty.idle_share", self.idle_share, 0, 1, "")
        within("duty.work_speed_rpm", self.work_speed_rpm, 100, 30_000, "rpm")
