"""The table of findings and faults as data: read from ``table.toml`` and checked once."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

import msgspec

from daq.cards.machine_parts import AlternatorClass

__all__ = ["Disagreement", "Fault", "FindingKind", "RuleTable", "Weighted", "load_table"]


class Weighted(msgspec.Struct, frozen=True, array_like=True):
    """One line of a fault: a finding, how much it weighs, and why."""

    finding: str
    weight: str
    why: str


class FindingKind(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A fact that a test can give."""

    name: str
    step: str
    """The test that gives it; "" where any can."""


class Fault(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What can be at fault."""

    name: str
    title: str
    remedy: str
    supports: tuple[Weighted, ...]
    contradicts: tuple[Weighted, ...]
    classes: tuple[AlternatorClass, ...] = tuple(AlternatorClass)
    """Alternators that can have it."""


class Disagreement(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Findings that can't both be true, and the test to repeat first."""

    findings: tuple[str, str]
    text: str
    repeat: str


class RuleTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The whole table."""

    named_from: float
    """Score from which a fault is named."""
    close_within: float
    """Faults whose scores lie within this of the first one's are rivals of it."""
    weight: dict[str, float]
    finding: tuple[FindingKind, ...]
    fault: tuple[Fault, ...]
    disagreement: tuple[Disagreement, ...]

    def __post_init__(self) -> None:
        known = {kind.name for kind in self.finding}
        for fault in self.fault:
            for line in (*fault.supports, *fault.contradicts):
                if line.finding not in known:
                    raise ValueError(f"fault {fault.name}: there is no finding {line.finding!r}")
                if line.weight not in self.weight:
                    raise ValueError(f"fault {fault.name}: there is no weight {line.weight!r}")
        for each in self.disagreement:
            if not set(each.findings) <= known:
                raise ValueError(f"a disagreement of {each.findings} names a finding that there isn't")

    def effect(self, fault: Fault, finding: str) -> float:
        """What a sure finding does to a fault's score."""
        up = sum(self.weight[line.weight] for line in fault.supports if line.finding == finding)
        down = sum(self.weight[line.weight] for line in fault.contradicts if line.finding == finding)
        return up - down

    def of_class(self, alternator: AlternatorClass | None) -> RuleTable:
        """The table with the faults that such an alternator can have; an unknown one is taken as regulated."""
        kind = AlternatorClass.REGULATED if alternator is None else alternator
        return msgspec.structs.replace(self, fault=tuple(each for each in self.fault if kind in each.classes))

    def fault_named(self, name: str) -> Fault | None:
        """The fault of that name, or None."""
        return next((fault for fault in self.fault if fault.name == name), None)


@cache
def load_table() -> RuleTable:
    """The built-in table."""
    text = (files("daq.job.diagnosis") / "table.toml").read_text("utf-8")
    return msgspec.convert(tomllib.loads(text), RuleTable)
