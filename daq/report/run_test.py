"""One recorded run as a test of the report: its verdict, what it rests on, and its plots."""

from __future__ import annotations

from collections.abc import Callable

from daq.cards.machine import MachineCard
from daq.cards.open_points import source_of
from daq.job.sheet.steps import load_sheet
from daq.model.counted import counted
from daq.model.progress import unheard
from daq.model.quantity import Quantity
from daq.rated.budget import UncertaintyBudget
from daq.report.content import BudgetPart, Figure, Instrument, Judged, Test
from daq.report.figures.rated_time import rated_over_time
from daq.report.figures.readings import readings_over_time
from daq.report.figures.volts_speed import volts_against_speed
from daq.report.words import badge_of, output_words, quantity_words, with_wide
from daq.run.channels import ChannelData
from daq.run.recorded import RecordedRun
from daq.verdict.result import Result

__all__ = ["run_figures", "run_instruments", "run_test"]


def run_test(run: RecordedRun, number: int, place: str, progress: Callable[[float], None] = unheard) -> Test:
    """A run with its verdict.

    Args:
        run: the recording.
        number: its place among the runs, from 1.
        place: what it is called among them, such as "Before"; "" for one alone.
        progress: called after each plot, from 0 to 1.
    """
    result, name = run.result(), run.recording.path.name
    paired = run.data.volts is not None and run.data.speed is not None
    what = "AC output, unloaded" if paired else "Recording"
    step = load_sheet().step_named("ac_output") if paired else None
    return Test(
        anchor=f"run-{number}",
        title=f"{place}: {what} ({name})" if place else f"{what} ({name})",
        badge=badge_of(result.verdict),
        purpose=step.purpose if step is not None else "",
        rows=_rows(result, run.data.machine),
        reasons=tuple(result.reasons if result.rated_voltage_V is None else result.reasons[1:]),
        notes=_notes(run),
        taken=_taken(result, run),
        acceptance=step.acceptance if step is not None else "",
        tells=step.tells if step is not None else "",
        figures=run_figures(run, f"run-{number}", progress=progress),
        budget=_budget(run.budget(), result.unknown_errors),
    )


def run_figures(
    run: RecordedRun,
    name: str,
    coverage: float | None = None,
    progress: Callable[[float], None] = unheard,
) -> tuple[Figure, ...]:
    """The plots of a run: rated volts over time and volts against speed, or else the readings as they came.

    Args:
        run: the recording.
        name: beginning of the figures' names.
        coverage: factor of the ± where it is not the run's own.
        progress: called after each plot, from 0 to 1.
    """
    analysis = run.analysis()
    over_time = rated_over_time(analysis, run.data.machine, f"{name}-time", coverage)
    progress(0.7)
    found = [over_time, volts_against_speed(analysis, f"{name}-speed")]
    progress(0.9)
    shown = [figure for figure in found if figure is not None]
    others = [c for c in run.data.channels if c.entry.quantity not in _PAIR]
    if found[0] is None or others:
        plain = readings_over_time(run.data, f"{name}-readings", "Readings as they came")
        shown += [plain] if plain is not None else []
    progress(1.0)
    return tuple(shown)


_LEAST_SHARE = 0.01
_PAIR = frozenset(
    {Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED, Quantity.REVOLUTIONS, Quantity.DEVICE_TIME}
)


def run_instruments(run: RecordedRun) -> tuple[Instrument, ...]:
    """What measured, and how well its card says it does."""
    return tuple(
        _instrument(channel)
        for channel in run.data.channels
        if channel.entry.quantity is not Quantity.DEVICE_TIME
    )


def _instrument(channel: ChannelData) -> Instrument:
    entry, card = channel.entry, channel.card
    accuracy = "not stated: the ± holds no more than its last digit"
    if card is not None and card.accuracy is not None:
        accuracy = f"± {card.accuracy.percent_of_reading:g} %"
        if card.accuracy.counts:
            accuracy += f" ± {counted(card.accuracy.counts, 'count')}"
            accuracy += f" of {card.resolution:g} {entry.unit}" if card.resolution is not None else ""
    if card is not None and card.response.window_s is not None:
        accuracy += f"; averages over {card.response.window_s:g} s"
    return Instrument(
        entry.instrument, quantity_words(entry.quantity.value), accuracy, "its card in the recording"
    )


def _rows(result: Result, machine: MachineCard | None) -> tuple[Judged, ...]:
    if result.rated_speed_rpm is None or result.rated_voltage_V is None:
        return ()
    limit = ""
    if result.minimum_V is not None and machine is not None:
        limit = f"at least {result.minimum_V:g} V ({source_of(machine, 'minimum_ac_voltage_v')})"
    reading = output_words(result)
    if result.coverage_factor is not None:
        reading += f" (k = {result.coverage_factor:.2f})"
    title = f"AC volts at {result.rated_speed_rpm:.0f} rpm, unloaded"
    return (Judged(title, reading, limit, badge_of(result.verdict), result.reasons[0]),)


def _notes(run: RecordedRun) -> tuple[str, ...]:
    recording = run.recording
    said = [f"At {mark.t_ns / 1e9:.1f} s: {mark.text}" for mark in recording.marks]
    note = recording.session.note.strip()
    return (*([note] if note else []), *said)


def _taken(result: Result, run: RecordedRun) -> tuple[str, ...]:
    recording = run.recording
    said = []
    if recording.start_known:
        said.append(f"Recorded {recording.start:%Y-%m-%d %H:%M} UTC, {recording.last_t_ns / 1e9:.0f} s long.")
    said += recording.wall_clock.told()
    if result.rows:
        said.append(
            f"{counted(result.rows, 'row')} of volts with their speed, {result.rows_rejected} of them left out."
        )
    if result.volts_per_1000rpm is not None:
        said.append(f"{result.volts_per_1000rpm:.3f} V for each 1000 rpm.")
    if result.lag_s is not None and result.lag_u_s is not None:
        after = "after" if result.lag_s >= 0 else "before"
        said.append(
            f"The volts arrive {with_wide(abs(result.lag_s), 2.0 * result.lag_u_s, 's')} {after} the speed of the "
            "same instant; that is taken out."
        )
    elif result.rated_voltage_V is not None:
        said.append(
            "The lag between the instruments does not show in this run; what it can cost is in the ±."
        )
    return tuple(said)


def _budget(budget: UncertaintyBudget | None, unknown: tuple[str, ...]) -> tuple[BudgetPart, ...]:
    """What the ± is made of; ``unknown``: whose own error is unknown, and so in no line."""
    if budget is None or budget.standard_uncertainty <= 0.0:
        return ()
    whole = budget.standard_uncertainty**2
    parts = sorted(budget.contributions, key=lambda part: -part.output_uncertainty)
    worth = [part for part in parts if part.output_uncertainty**2 >= _LEAST_SHARE * whole]
    lines = [
        BudgetPart(
            part.name,
            f"{part.output_uncertainty:.4f} V",
            f"{100.0 * part.output_uncertainty**2 / whole:.0f} %",
        )
        for part in worth
    ]
    rest = sum(part.output_uncertainty**2 for part in parts if part not in worth)
    if rest > 0.0:
        lines.append(BudgetPart("all others", f"{rest**0.5:.4f} V", f"{100.0 * rest / whole:.1f} %"))
    lines.append(
        BudgetPart("all together (standard uncertainty)", f"{budget.standard_uncertainty:.4f} V", "")
    )
    lines.append(
        BudgetPart(
            f"± for 95 %, k = {budget.coverage_factor:.2f}",
            f"{budget.expanded_uncertainty:.4f} V{' at least' if unknown else ''}",
            "",
        )
    )
    lines += [BudgetPart(f"the {who}'s own error", "unknown", "") for who in unknown]
    return tuple(lines)
