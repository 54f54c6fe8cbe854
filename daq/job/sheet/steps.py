"""The job sheet as data: read from ``sheet.toml`` and checked once."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files
from typing import Literal

import msgspec

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass
from daq.model.quantity import Quantity

__all__ = ["AFTER_REPAIR", "EngineState", "Sheet", "Slot", "SlotKind", "Step", "load_sheet"]

EngineState = Literal["stopped", "idle", "test_speed"]
SlotKind = Literal["value", "watch", "run", "count"]

AFTER_REPAIR = "after_repair"
"""The step without slots of its own: repeat what failed."""


class Slot(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One reading of a step."""

    name: str
    title: str
    quantity: Quantity | None = None
    """None where a person counts."""
    place: str
    leads: str
    engine: EngineState
    kind: SlotKind = "value"
    seconds: float = 5.0
    """How long a recording of it should be."""
    optional: bool = False
    instead_of: str | None = None

    @property
    def unit(self) -> str:
        """Unit in which it is read; "" for a count."""
        return self.quantity.unit if self.quantity is not None else ""


class Step(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One test."""

    name: str
    title: str
    purpose: str
    setup: tuple[str, ...]
    cautions: tuple[str, ...]
    """Names in the sheet's table of cautions."""
    acceptance: str
    tells: str
    classes: tuple[AlternatorClass, ...] = tuple(AlternatorClass)
    """Alternators to which it applies."""
    slot: tuple[Slot, ...] = ()

    def slot_named(self, name: str) -> Slot | None:
        """The slot of that name, or None."""
        return next((slot for slot in self.slot if slot.name == name), None)


class Sheet(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The whole sheet."""

    caution: dict[str, str]
    step: tuple[Step, ...]

    def __post_init__(self) -> None:
        names = [slot.name for step in self.step for slot in step.slot] + [step.name for step in self.step]
        slots = {slot.name for step in self.step for slot in step.slot}
        if len(slots) != sum(len(step.slot) for step in self.step):
            raise ValueError(f"two slots have one name: {sorted(names)}")
        for step in self.step:
            unknown = set(step.cautions) - set(self.caution)
            if unknown:
                raise ValueError(f"step {step.name}: there is no caution {sorted(unknown)[0]!r}")

    def step_named(self, name: str) -> Step | None:
        """The step of that name, or None."""
        return next((step for step in self.step if step.name == name), None)

    def step_of_slot(self, name: str) -> Step | None:
        """The step that a slot belongs to, or None."""
        return next((step for step in self.step if step.slot_named(name) is not None), None)

    def cautions_of(self, step: Step) -> tuple[str, ...]:
        """A step's cautions in words."""
        return tuple(self.caution[name] for name in step.cautions)

    def applies(self, step: Step, machine: MachineCard) -> bool:
        """Whether a step applies to a machine; for an unknown alternator all of them do."""
        return machine.alternator is None or machine.alternator in step.classes


@cache
def load_sheet() -> Sheet:
    """The built-in sheet."""
    text = (files("daq.job.sheet") / "sheet.toml").read_text("utf-8")
    return msgspec.convert(tomllib.loads(text), Sheet)
