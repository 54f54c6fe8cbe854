"""What a recording says for a slot of the sheet."""

from __future__ import annotations

import numpy as np
from msgspec.structs import replace
from numpy.typing import NDArray

from daq.cards.machine import MachineCard
from daq.job.evidence.choosing import CutRun, after_stop, choose, cut_run
from daq.job.evidence.curve import curve_points
from daq.job.evidence.meter_on_ac import ac_notes
from daq.job.evidence.observed import CurvePoint, Observed
from daq.job.evidence.recorded_output import rated_found
from daq.job.evidence.series import Series, quantity_series, speed_series
from daq.job.evidence.stretch import other_step, stretches_of
from daq.job.evidence.trouble import Trouble, TroubleKind
from daq.job.evidence.usual_limits import USUAL_SOURCE, usual_accuracy
from daq.job.sheet.steps import Slot, Step
from daq.job.streams.opens import find_openings
from daq.job.streams.weighted import gap_words, time_mean
from daq.model.quantity import Quantity
from daq.rated.instrument_limits import InstrumentLimits
from daq.run.recorded import RecordedRun

__all__ = ["observe_recording"]

Floats = NDArray[np.float64]


def observe_recording(run: RecordedRun, step: Step, slot: Slot, machine: MachineCard) -> Observed:
    """Find a slot's reading in a recording.

    Args:
        run: the recording, opened with the job's machine card.
        step: the step that the slot belongs to.
        slot: what is looked for.
        machine: the job's machine card.

    Returns:
        The reading, or one that names why the recording holds none.
    """
    name = run.recording.path.name
    if slot.quantity is None:
        return _nothing(
            slot, name, TroubleKind.NO_VALUE, "A count is typed in, it can't come from a recording."
        )
    other = other_step(run.recording.steps, step.name)
    if other is not None:
        text = f"{name} was recorded in the step {other!r}, not in {step.name!r}. Kept, not judged."
        return _nothing(slot, name, TroubleKind.WRONG_STEP, text)
    stretches = stretches_of(run.recording.steps, step.name, run.recording.last_t_ns * 1e-9)
    series = quantity_series(run.data, slot.quantity, stretches)
    if series is None:
        return _nothing(slot, name, TroubleKind.WRONG_FUNCTION, _no_channel(run, slot, name))
    cut = cut_run(series, speed_series(run.data, stretches), slot, machine)
    if bool(np.any(series.wrong_function)) and int(series.wrong_function.sum()) > int(series.usable.sum()):
        text = f"In {name} the meter says itself that its dial stood on another function. Kept, not judged."
        return _nothing(slot, name, TroubleKind.WRONG_FUNCTION, text)
    return _observed(run, cut, slot, machine)


def _no_channel(run: RecordedRun, slot: Slot, name: str) -> str:
    there = sorted({channel.entry.quantity.value.replace("_", " ") for channel in run.data.channels})
    wanted = slot.quantity.value.replace("_", " ") if slot.quantity is not None else "a count"
    return (
        f"{name} holds {', '.join(there) or 'no channels'} but no {wanted}: wrong function of the meter, or another "
        "recording. Kept, not judged."
    )


def _nothing(slot: Slot, origin: str, kind: TroubleKind, text: str) -> Observed:
    return Observed(
        slot=slot.name,
        quantity=slot.quantity,
        value=None,
        origin=origin,
        readings=0,
        troubles=(Trouble(kind, text),),
    )


def _observed(run: RecordedRun, cut: CutRun, slot: Slot, machine: MachineCard) -> Observed:
    name = run.recording.path.name
    chosen, speed_rpm, troubles, notes = choose(cut, slot, machine)
    troubles, notes = after_stop(cut, slot, machine, troubles, notes)
    limits = InstrumentLimits.of(cut.series.channel.card, cut.series.value[cut.series.usable])
    share, counts, source = _limits(limits, slot.quantity, cut)
    time_s, value = chosen.good
    common = Observed(
        slot=slot.name,
        quantity=slot.quantity,
        value=None,
        share=share,
        counts=counts,
        digit=limits.digit,
        accuracy_source=source,
        readings=len(chosen.time_s),
        span_s=float(chosen.time_s[-1] - chosen.time_s[0]) if len(chosen.time_s) else 0.0,
        speed_rpm=speed_rpm,
        origin=name,
        stop=cut.stop,
        troubles=troubles,
        notes=(*notes, *ac_notes(cut.series.channel.card, slot, machine, speed_rpm)),
    )
    return _with_value(common, run, cut, chosen, time_s, value, slot, machine)


def _with_value(
    common: Observed,
    run: RecordedRun,
    cut: CutRun,
    chosen: Series,
    time_s: Floats,
    value: Floats,
    slot: Slot,
    machine: MachineCard,
) -> Observed:
    if slot.kind == "watch":
        common = replace(common, openings=find_openings(chosen.time_s, chosen.value, chosen.overload))
    if slot.kind == "run":
        found = rated_found(run, machine, until_s=cut.run_down_s)
        middle = float(np.median(value)) if len(value) else None
        return replace(common, value=middle, rated=found)
    if int(chosen.overload.sum()) > len(value):
        return replace(common, overload=True)
    if len(value) == 0:
        text = f"{common.origin} has no usable reading for {slot.title}. Kept, not judged."
        return replace(common, troubles=(*common.troubles, Trouble(TroubleKind.NO_VALUE, text)))
    if slot.quantity is Quantity.RESISTANCE:
        time_s, value = _without_touches(time_s, value, common.digit)
    found_mean = time_mean(time_s, value)
    # Readings that move by half a digit and more show what lies between two digits.
    digit = 0.0 if len(value) >= 8 and float(np.std(value)) >= 0.4 * common.digit else common.digit
    notes = common.notes
    if found_mean.gaps:
        notes = (*notes, gap_words(found_mean.gaps, found_mean.gap_s))
    curve: tuple[CurvePoint, ...] = ()
    if slot.quantity is Quantity.DC_CURRENT:
        curve = curve_points(cut.series, cut.held, common.share, common.counts)
    return replace(
        common, value=found_mean.mean, digit=digit, scatter_u=found_mean.scatter_u, curve=curve, notes=notes
    )


def _without_touches(time_s: Floats, value: Floats, digit: float) -> tuple[Floats, Floats]:
    """Leaves out readings from when the tips were put on or slipped: far from the usual one."""
    usual = float(np.median(value))
    near = np.abs(value - usual) <= max(10.0 * digit, 0.05 * abs(usual))
    return time_s[near], value[near]


def _limits(limits: InstrumentLimits, quantity: Quantity | None, cut: CutRun) -> tuple[float, float, str]:
    if limits.known:
        return limits.share, limits.counts * limits.digit, f"card {cut.series.channel.entry.instrument}"
    usual = usual_accuracy(quantity)
    return usual.percent_of_reading / 100.0, usual.counts * limits.digit, USUAL_SOURCE
