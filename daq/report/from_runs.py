"""A report on recordings alone: one run judged, or two and more held against each other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from daq.cards.open_points import open_points
from daq.job.comparison import compare_runs
from daq.job.sheet.steps import Sheet, load_sheet
from daq.job.summary_parts import machine_facts
from daq.model.progress import one_of, unheard
from daq.report.content import Badge, Change, Comparison, Fact, Page, Question
from daq.report.figures.both_runs import both_runs
from daq.report.figures.changes import Pair, Spot, changes_figure
from daq.report.recording_notes import run_note, warnings_of
from daq.report.run_test import run_instruments, run_test
from daq.report.words import RUN_METHOD, RUN_SOURCES, badge_of, output_words, program, with_wide
from daq.run.recorded import RecordedRun
from daq.verdict.change import Change as RunChange
from daq.verdict.result import Result

__all__ = ["further_runs", "runs_page"]

_HEADLINES = {
    "pass": "The AC output meets its limit",
    "fail": "The AC output misses its limit",
    "too_close": "Whether the AC output meets its limit is too close to call",
    "no_limit": "The AC output is known, but no limit to hold it against",
    "not_enough_data": "No AC output at rated speed can be stated from this recording",
}
_TOO_FAR = "The AC output was measured too far from rated speed to hold it against its limit"


def runs_page(
    runs: Sequence[RecordedRun], now: datetime, progress: Callable[[float], None] = unheard
) -> Page:
    """The page on recordings.

    Args:
        runs: at least one, in the order in which they were named.
        now: when the report is made, aware, UTC.
        progress: called with the part of their plots drawn, from 0 to 1.
    """
    last = runs[-1]
    result, machine = last.result(), last.data.machine
    comparison = _comparison(runs) if len(runs) > 1 else None
    facts = (
        tuple(Fact(f.label, f.value, f.source) for f in machine_facts(machine)) if machine is not None else ()
    )
    page = Page(
        title="Report on the AC output",
        machine_title=machine.title if machine is not None else "Machine not named",
        headline=_headline(runs, result),
        badge=badge_of(result.verdict),
        sentences=_sentences(result, comparison),
        questions=_questions(runs),
        machine=facts,
        open_points=_open(last),
        comparison=comparison,
        began=_began(runs[0]),
        made=f"{now:%Y-%m-%d %H:%M} UTC",
        program=program(),
    )
    places = [_place(n, len(runs)) for n in range(1, len(runs) + 1)]
    return page.with_further(further_runs(runs, places, progress))


def further_runs(
    runs: Sequence[RecordedRun],
    places: Sequence[str] | None = None,
    progress: Callable[[float], None] = unheard,
) -> Page:
    """What runs put on a page: their tests and what those rest on.

    Args:
        runs: the recordings.
        places: what each is called; None for recordings beside a job.
        progress: called with the part of their plots drawn, from 0 to 1.
    """
    places = places if places is not None else ["Further recording"] * len(runs)
    sheet = load_sheet()
    notes = tuple(run_note(run) for run in runs)
    return Page(
        title="",
        machine_title="",
        headline="",
        badge=Badge("", "none"),
        warnings=warnings_of(notes),
        tests=tuple(
            run_test(run, n, place, one_of(progress, n - 1, len(runs)))
            for n, (run, place) in enumerate(zip(runs, places, strict=True), start=1)
        ),
        instruments=tuple(dict.fromkeys(each for run in runs for each in run_instruments(run))),
        cautions=_cautions(sheet),
        method=RUN_METHOD,
        sources=RUN_SOURCES,
        recordings=notes,
    )


def _cautions(sheet: Sheet) -> tuple[str, ...]:
    """Those of the AC output; the manual always comes first."""
    step = sheet.step_named("ac_output")
    names = ("manual_first", *(step.cautions if step is not None else ()))
    return tuple(sheet.caution[name] for name in dict.fromkeys(names))


def _headline(runs: Sequence[RecordedRun], result: Result) -> str:
    if len(runs) > 1:
        change = compare_runs(runs[0], runs[-1])
        if change.change.change_V is not None:
            return change.sentence.removeprefix(change.change.reasons[0]).strip()
    if result.verdict == "not_enough_data" and result.rated_voltage_V is not None:
        return f"{_TOO_FAR}."
    return f"{_HEADLINES[result.verdict]}."


def _sentences(result: Result, comparison: Comparison | None) -> tuple[str, ...]:
    said = list(comparison.sentences[:1]) if comparison is not None else []
    if result.rated_voltage_V is not None and result.rated_speed_rpm is not None:
        limit = "" if result.minimum_V is None else f"; at least {result.minimum_V:g} V is wanted"
        said.append(f"{output_words(result, at_speed=True)}, unloaded{limit}.")
    else:
        said += result.reasons[:2]
    return tuple(said)


def _questions(runs: Sequence[RecordedRun]) -> tuple[Question, ...]:
    if len(runs) < 2:
        return ()
    asked = []
    for number, run in enumerate(runs, start=1):
        result = run.result()
        said = "No output at rated speed can be stated."
        if result.rated_voltage_V is not None and result.rated_speed_rpm is not None:
            said = output_words(result, at_speed=True)
        asked.append(
            Question(
                f"{_place(number, len(runs))}: {run.recording.path.name}", badge_of(result.verdict), said
            )
        )
    return tuple(asked)


def _place(number: int, count: int) -> str:
    if count == 2:
        return ("Before", "After")[number - 1]
    return f"Run {number}" if count > 2 else ""


def _open(run: RecordedRun) -> tuple[str, ...]:
    if run.data.machine is None:
        return ("The recording names no machine card: neither rated speed nor limit are known.",)
    return tuple(point for point in open_points(run.data.machine) if point.startswith("minimum_ac_voltage_v"))


def _began(run: RecordedRun) -> str:
    recording = run.recording
    return f"{recording.start:%Y-%m-%d %H:%M} UTC" if recording.start_known else ""


def _comparison(runs: Sequence[RecordedRun]) -> Comparison:
    first, last = runs[0], runs[-1]
    changes = tuple(_change(first, run, number, len(runs)) for number, run in enumerate(runs[1:], start=2))
    whole = compare_runs(first, last)
    short = "" if whole.change.change_V is None else f"{_by(whole.change)}, {_significance(whole.change)}"
    said = " ".join(whole.change.reasons[:1])
    drawn = (
        both_runs(first.analysis(), last.analysis(), "both-runs", said, short),
        changes_figure(_pairs(first, last, short), "changes"),
    )
    sentences = [*whole.change.reasons, *_cautioned(first, last)]
    return Comparison(
        title="Before and after" if len(runs) == 2 else "The runs held against the first",
        repairs=(),
        sentences=tuple(sentences),
        changes=changes,
        figures=tuple(figure for figure in drawn if figure is not None),
    )


def _change(first: RecordedRun, run: RecordedRun, number: int, count: int) -> Change:
    change = compare_runs(first, run).change
    title = run.recording.path.name if count > 2 else "AC volts at rated speed, unloaded"
    return Change(
        title=title if count == 2 else f"Run {number}: {title}",
        before=_volts(change.before),
        after=_volts(change.after),
        change=_by(change),
        meaning=_significance(change),
    )


def _pairs(first: RecordedRun, last: RecordedRun, change: str) -> list[Pair]:
    before, after = _spot(first.result()), _spot(last.result())
    if before is None or after is None:
        return []
    minimum = last.result().minimum_V
    words = "" if minimum is None else f"at least {minimum:g} V"
    return [Pair("AC volts at rated speed, unloaded", "V", before, after, minimum, words, f"change {change}")]


def _spot(result: Result) -> Spot | None:
    if result.rated_voltage_V is None or result.expanded_uncertainty_V is None:
        return None
    return Spot(result.rated_voltage_V, result.expanded_uncertainty_V)


def _volts(result: Result) -> str:
    return output_words(result) or "not stated"


def _by(change: RunChange) -> str:
    if change.change_V is None:
        return "can't be told"
    sign = "+" if change.change_V >= 0.0 else "−"
    percent = "" if change.change_percent is None else f" ({change.change_percent:+.1f} %)"
    least = bool(change.before.unknown_errors or change.after.unknown_errors)
    by = with_wide(abs(change.change_V), change.expanded_uncertainty_V, "V", least=least)
    return f"{sign}{by}{percent}"


def _significance(change: RunChange) -> str:
    if change.significant is None:
        return "can't be told"
    return "significant" if change.significant else "no more than chance"


def _cautioned(first: RecordedRun, last: RecordedRun) -> list[str]:
    """What makes the comparison doubtful: runs in the other order, or of two machines."""
    one, other, said = first.recording, last.recording, []
    if one.start_known and other.start_known and other.start < one.start:
        said.append(
            f"Note the order: {other.path.name} was recorded before {one.path.name}, but was named after it."
        )
    if one.machine is not None and other.machine is not None and one.machine.name != other.machine.name:
        said.append(
            f"Note the machines: {one.path.name} is of {one.machine.title}, {other.path.name} of {other.machine.title}."
        )
    return said
