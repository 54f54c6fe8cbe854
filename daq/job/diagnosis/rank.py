"""From findings to ranked faults, with the reasons in words.

A fault's score is the sum of what supports it less what contradicts it, each by
its weight times how sure the finding is. The words are not hidden behind the
score: both sides are listed with their numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from daq.job.diagnosis.next_test import NextTest, next_test
from daq.job.diagnosis.table import Fault, RuleTable, Weighted, load_table
from daq.job.judging.verdicts import Finding

__all__ = ["Diagnosis", "RankedFault", "diagnose"]


class RankedFault(msgspec.Struct, frozen=True, kw_only=True):
    """A fault with what speaks for and against it."""

    name: str
    title: str
    score: float
    named: bool
    """Enough speaks for it."""
    supports: tuple[str, ...]
    contradicts: tuple[str, ...]
    remedy: str


class Diagnosis(msgspec.Struct, frozen=True, kw_only=True):
    """The faults in order, the likeliest first, and the next test."""

    faults: tuple[RankedFault, ...]
    """Those for which anything speaks."""
    next_test: NextTest | None
    findings: tuple[Finding, ...]

    @property
    def leading(self) -> RankedFault | None:
        """The likeliest fault, if enough speaks for it."""
        return self.faults[0] if self.faults and self.faults[0].named else None

    def rivals(self, within: float) -> tuple[RankedFault, ...]:
        """Other named faults whose scores lie close to the leading one's."""
        leading = self.leading
        if leading is None:
            return ()
        return tuple(each for each in self.faults[1:] if each.named and each.score >= leading.score - within)


def diagnose(
    findings: Iterable[Finding], open_steps: Sequence[str], table: RuleTable | None = None
) -> Diagnosis:
    """Rank the faults.

    Args:
        findings: of all judged steps; of one name the surest counts.
        open_steps: steps not yet done that apply to the machine, in the sheet's order.
        table: the rules; the built-in ones when None.
    """
    table = table or load_table()
    known = _surest(findings)
    known.update(_disagreements(known, table))
    ranked = [_rank(fault, known, table) for fault in table.fault]
    heard = sorted((each for each in ranked if each.score > 0.0), key=lambda each: -each.score)
    order = {fault.name: place for place, fault in enumerate(table.fault)}
    heard.sort(key=lambda each: (-each.score, order[each.name]))
    scores = {each.name: each.score for each in ranked}
    return Diagnosis(
        faults=tuple(heard),
        next_test=next_test(scores, known, open_steps, table),
        findings=tuple(known.values()),
    )


def _surest(findings: Iterable[Finding]) -> dict[str, Finding]:
    known: dict[str, Finding] = {}
    for finding in findings:
        before = known.get(finding.name)
        if before is None or finding.strength > before.strength:
            known[finding.name] = finding
    return known


def _disagreements(known: dict[str, Finding], table: RuleTable) -> dict[str, Finding]:
    worst: Finding | None = None
    for each in table.disagreement:
        one, other = (known.get(name) for name in each.findings)
        if one is None or other is None:
            continue
        sure = one.strength * other.strength
        if sure > 0.5 and (worst is None or sure > worst.strength):
            worst = Finding("readings_disagree", sure, f"{each.text}; repeat {each.repeat.replace('_', ' ')}")
    return {} if worst is None else {worst.name: worst}


def _rank(fault: Fault, known: dict[str, Finding], table: RuleTable) -> RankedFault:
    up = _heard(fault.supports, known, table)
    down = _heard(fault.contradicts, known, table)
    score = sum(weight for weight, _ in up) - sum(weight for weight, _ in down)
    return RankedFault(
        name=fault.name,
        title=fault.title,
        score=score,
        named=score >= table.named_from,
        supports=tuple(text for _, text in up),
        contradicts=tuple(text for _, text in down),
        remedy=fault.remedy,
    )


def _heard(lines: Sequence[Weighted], known: dict[str, Finding], table: RuleTable) -> list[tuple[float, str]]:
    """Weights and sentences of the lines whose findings are there, the heaviest first."""
    said = []
    for line in lines:
        finding = known.get(line.finding)
        if finding is None or finding.strength < 0.1:
            continue
        doubt = "" if finding.strength > 0.8 else " (not sure)"
        text = f"{finding.text[0].upper()}{finding.text[1:]}: {line.why}{doubt}."
        said.append((table.weight[line.weight] * finding.strength, text))
    return sorted(said, key=lambda each: -each[0])
