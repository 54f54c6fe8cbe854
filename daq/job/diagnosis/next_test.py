"""Which test, of those not yet done, would best tell the leading faults apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from daq.job.diagnosis.table import Fault, RuleTable
from daq.job.judging.verdicts import Finding

__all__ = ["NextTest", "next_test"]

_RIVALS = 6
"""How many leading faults are held against each other."""
_HEARD_SHARE = 0.5
"""Share of a hint from which a fault is heard."""


class NextTest(msgspec.Struct, frozen=True):
    """The test to do next, and why."""

    step: str
    reason: str


def next_test(
    scores: Mapping[str, float], known: Mapping[str, Finding], open_steps: Sequence[str], table: RuleTable
) -> NextTest | None:
    """The open test whose possible findings would part the leading faults most.

    Args:
        scores: of every fault.
        known: findings so far.
        open_steps: tests not yet done, in the sheet's order; of equal ones the first is taken.
        table: the rules.

    Returns:
        None where no test is open, or nothing points to a fault yet (then the sheet's order holds).
    """
    leaders = _leaders(scores, table)
    if not leaders or not open_steps:
        return None
    gains = {step: _gain(step, leaders, known, table) for step in open_steps}
    best = max(gains.values())
    if best <= 0.0:
        return None
    step = next(name for name in open_steps if gains[name] == best)
    titles = [fault.title for fault in leaders]
    if len(titles) == 1:
        return NextTest(step, f"It would confirm or clear: {titles[0]}.")
    return NextTest(step, f"It best tells these apart: {'; '.join(titles)}.")


def _leaders(scores: Mapping[str, float], table: RuleTable) -> list[Fault]:
    heard = [fault for fault in table.fault if scores[fault.name] >= _HEARD_SHARE * table.weight["hint"]]
    if not heard:
        return []
    top = max(scores[fault.name] for fault in heard)
    near = [fault for fault in heard if scores[fault.name] >= top - table.close_within]
    return sorted(near, key=lambda fault: -scores[fault.name])[:_RIVALS]


def _gain(step: str, leaders: Sequence[Fault], known: Mapping[str, Finding], table: RuleTable) -> float:
    """How far the finding of a test that parts the leaders most would part them."""
    most = 0.0
    for kind in table.finding:
        if kind.step != step or kind.name in known:
            continue
        effects = [table.effect(fault, kind.name) for fault in leaders]
        spread = max(effects) - min(effects) if len(effects) > 1 else abs(effects[0])
        most = max(most, spread)
    return most
