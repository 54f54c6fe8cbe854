"""Which judge judges which step, and what becomes of readings that can't be judged."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from msgspec.structs import replace

from daq.job.evidence.observed import Observed
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.judging.ac_output import judge_ac_output
from daq.job.judging.battery_rest import judge_battery_rest
from daq.job.judging.charging import judge_charging
from daq.job.judging.given import Given
from daq.job.judging.loads import judge_loads
from daq.job.judging.rectifier import judge_rectifier
from daq.job.judging.verdicts import Finding, Line, StepJudgement, judged
from daq.job.judging.winding import judge_resistance, judge_to_ground, judge_wiggle
from daq.job.judging.wiring import judge_wiring
from daq.job.sheet.steps import Step
from daq.job.words import amount

__all__ = ["JUDGES", "judge_step"]

JUDGES: Mapping[str, Callable[[Given], StepJudgement]] = {
    "battery_rest": judge_battery_rest,
    "loads": judge_loads,
    "charging": judge_charging,
    "ac_output": judge_ac_output,
    "winding_resistance": judge_resistance,
    "wiggle": judge_wiggle,
    "winding_to_ground": judge_to_ground,
    "rectifier_output": judge_rectifier,
    "wiring_drop": judge_wiring,
}
"""By the step's name; every step with slots has one."""


def judge_step(step: Step, given: Given, observed: Sequence[Observed]) -> StepJudgement:
    """Judge a step.

    Args:
        step: which.
        given: the machine and all usable readings of the round.
        observed: this step's readings, those with troubles among them: each of these becomes a line of
            its own, and a slip of instrument or set-up a finding.
    """
    found = JUDGES[step.name](given)
    lines, findings = list(found.lines), list(found.findings)
    for each in observed:
        for trouble in each.troubles:
            lines.append(_trouble_line(step, each, trouble))
            if trouble.kind.is_a_slip:
                said = trouble.text.removesuffix(" Kept, not judged.").rstrip(".")
                findings.append(Finding("reading_impossible", 1.0, said))
    return replace(judged(lines), findings=tuple(findings))


def _trouble_line(step: Step, observed: Observed, trouble: Trouble) -> Line:
    slot = step.slot_named(observed.slot)
    unit = slot.unit if slot is not None else ""
    reading = "over range" if observed.overload else "none"
    if observed.value is not None:
        reading = amount(observed.value, observed.u, unit)
    return Line(
        title=slot.title if slot is not None else observed.slot,
        reading=reading,
        limit="",
        verdict="cut_short" if trouble.kind is TroubleKind.CUT_SHORT else "not_judged",
        sentence=trouble.text,
    )
