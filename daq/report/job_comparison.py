"""A job before and after its repair."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from daq.job.comparison import SlotChange
from daq.job.evidence.observed import Observed
from daq.job.job import Job
from daq.job.status import JobStatus
from daq.job.summary import JobSummary
from daq.report.content import Change, Comparison, Figure, Test
from daq.report.figures.both_runs import both_runs
from daq.report.figures.changes import MOST_PAIRS, Pair, Spot, changes_figure
from daq.report.job_figures import recorded_run

__all__ = ["job_comparison"]

_TITLE_WIDTH = 52
_OUTPUT = "output"


def job_comparison(job: Job, summary: JobSummary, earlier: tuple[Test, ...]) -> Comparison | None:
    """What changed; None where nothing was repaired.

    Args:
        job: the job.
        summary: of it.
        earlier: the repeated tests as they were before.
    """
    if not summary.repairs:
        return None
    status = job.status()
    figures = [_both_outputs(job, status, summary), changes_figure(_pairs(status, summary), "changes")]
    return Comparison(
        title="Before and after the repair",
        repairs=tuple(f"{each.text} ({each.utc[:10]})" for each in summary.repairs),
        sentences=(summary.answer.proven_sentence,) if summary.answer.proven_sentence else (),
        changes=tuple(_change(each) for each in summary.changes),
        figures=tuple(figure for figure in figures if figure is not None),
        earlier=earlier,
    )


def _change(each: SlotChange) -> Change:
    return Change(
        title=each.title[:1].upper() + each.title[1:],
        before=each.before,
        after=each.after,
        change=each.change or "can't be told",
        meaning=_meaning(each),
    )


def _meaning(each: SlotChange) -> str:
    said = _significance(each)
    if each.limit_now_met:
        return f"{said}; its test passes now"
    if each.verdict_before == "pass" and each.verdict_after != "pass":
        return f"{said}; its test passed before and does not now"
    return said


def _significance(each: SlotChange) -> str:
    return {True: "significant", False: "no more than chance", None: "can't be told"}[each.significant]


def _both_outputs(job: Job, status: JobStatus, summary: JobSummary) -> Figure | None:
    change = next((each for each in summary.changes if each.slot == _OUTPUT), None)
    if change is None:
        return None
    after_round = status.step(change.step).round
    rounds = status.state.rounds
    before, after = (recorded_run(job, rounds[n - 1].readings.get(_OUTPUT)) for n in (1, after_round))
    if before is None or after is None:
        return None
    said = f"At rated speed: {change.before} before, {change.after} after"
    if change.change:
        said += f"; the change of {change.change} is {_meaning(change)}"
    short = f"{change.change}, {_significance(change)}" if change.change else ""
    return both_runs(before.analysis(), after.analysis(), "both-outputs", f"{said}.", short)


def _pairs(status: JobStatus, summary: JobSummary) -> list[Pair]:
    """The changes that can be drawn, those that mean something first."""
    ranked = sorted(summary.changes, key=lambda each: (each.slot != _OUTPUT, not each.significant))
    pairs = [pair for each in ranked for pair in _pair(status, each)]
    return pairs[:MOST_PAIRS]


def _pair(status: JobStatus, change: SlotChange) -> Iterator[Pair]:
    old = _observed(status, change, before=True)
    new = _observed(status, change, before=False)
    slot = next((s for s in status.step(change.step).step.slot if s.name == change.slot), None)
    before, after = _spot(old), _spot(new)
    if slot is None or not slot.unit or before is None or after is None:
        return
    limit, words = _limit(status, change.slot)
    title = "AC volts at rated speed, unloaded" if change.slot == _OUTPUT else slot.title.partition(" (")[0]
    yield Pair(
        title=textwrap.shorten(title[:1].upper() + title[1:], _TITLE_WIDTH, placeholder=" …"),
        unit=slot.unit,
        before=before,
        after=after,
        limit=limit,
        limit_text=words,
        change=f"change {change.change}, {_meaning(change)}",
    )


def _observed(status: JobStatus, change: SlotChange, *, before: bool) -> Observed | None:
    steps = status.before if before else status.steps
    found = (o for each in steps if each.step.name == change.step for o in each.observed)
    return next((observed for observed in found if observed.slot == change.slot), None)


def _spot(observed: Observed | None) -> Spot | None:
    if observed is None or not observed.usable:
        return None
    if observed.rated is not None:
        volts = observed.rated.rated_voltage_v
        return Spot(volts, observed.rated.wide_v) if volts is not None else None
    return Spot(observed.value, 2.0 * observed.u) if observed.value is not None else None


def _limit(status: JobStatus, slot: str) -> tuple[float | None, str]:
    machine = status.state.machine
    if slot == _OUTPUT and machine.minimum_ac_voltage_v is not None:
        return machine.minimum_ac_voltage_v, f"at least {machine.minimum_ac_voltage_v:g} V"
    if slot == "current_work":
        return 0.0, "above 0 A"
    return None, ""
