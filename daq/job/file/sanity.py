"""Does a line of a job file make sense? What does not is named, kept, and not judged."""

from __future__ import annotations

import math
from datetime import datetime

import msgspec

from daq.cards.machine import MachineCard
from daq.errors import UsageError
from daq.job.evidence.observed import Observed, RatedFound
from daq.job.evidence.typed import typed_observation
from daq.job.file.entries import JobLine, ReadingLine, SkipLine, VerdictLine
from daq.job.file.troubles import Fault
from daq.job.sheet.steps import Sheet, Slot, Step
from daq.model.counted import counted

__all__ = ["line_trouble", "observed_of"]

_NUMBERS = ("value", "scatter_u", "share", "counts", "digit", "span_s", "speed_rpm")
_GREATEST = 1e12
"""Far beyond any reading; the square of a greater number may be none."""
_NOT_NEGATIVE = ("scatter_u", "share", "counts", "digit", "span_s")


def line_trouble(line: JobLine, sheet: Sheet, current_round: int) -> Fault | None:
    """Why a line makes no sense; None where it does."""
    utc = getattr(line, "utc", None)
    if utc is not None and _bad_time(utc):
        return Fault("time", f"has a time that can't be: {utc[:40]!r}")
    if isinstance(line, ReadingLine | SkipLine | VerdictLine):
        step = sheet.step_named(line.step)
        if step is None:
            return Fault("test", f"names a test that there isn't: {line.step[:40]!r}")
        if not 1 <= line.round <= current_round:
            repairs = counted(current_round - 1, "repair")
            return Fault("round", f"is for round {line.round}, but only {repairs} came before it")
    if isinstance(line, SkipLine) and not line.reason.strip():
        return Fault("reason", "skips a test without a reason")
    return None


def observed_of(line: ReadingLine, step: Step, machine: MachineCard) -> Observed | Fault:
    """The reading of a line, or why it makes no sense."""
    slot = step.slot_named(line.slot)
    if slot is None:
        text = f"puts {line.slot[:40]!r} into the test {step.title!r}, where it does not belong"
        return Fault("slot", text)
    try:
        observed = msgspec.convert(line.observed, Observed)
    except (msgspec.ValidationError, RecursionError) as error:
        return Fault("reading", f"holds a reading that can't be understood ({error})")
    return _trouble(observed, line, slot, machine) or observed


def _trouble(observed: Observed, line: ReadingLine, slot: Slot, machine: MachineCard) -> Fault | None:
    if observed.slot != line.slot or observed.quantity is not slot.quantity:
        return Fault("quantity", f"holds a reading of another kind than {slot.title}")
    for key in _NUMBERS:
        number = getattr(observed, key)
        if number is not None and not math.isfinite(number):
            return Fault("none", f"has no number for {key}")
        if number is not None and abs(number) > _GREATEST:
            return Fault("great", f"has {key} = {number:g}, which is no reading")
        if number is not None and key in _NOT_NEGATIVE and number < 0.0:
            return Fault("negative", f"has {key} = {number:g}, which can't be under 0")
    if observed.rated is not None and (trouble := _rated_trouble(observed.rated)):
        return trouble
    if (line.typed is None) == (line.recording is None):
        return Fault("origin", "says neither what was typed nor which recording it is from")
    if line.typed is not None:
        return _typed_trouble(observed, line.typed, slot, machine)
    return None


def _rated_trouble(rated: RatedFound) -> Fault | None:
    """Why what is said of the AC output can't be reckoned with; None where it can."""
    freedom = rated.degrees_of_freedom
    if freedom is not None and not freedom >= 1.0:
        return Fault("freedom", f"has degrees_of_freedom = {freedom:g}, which can't be under 1")
    if not rated.u_rated_voltage_v >= 0.0:
        text = f"has u_rated_voltage_v = {rated.u_rated_voltage_v:g}, which can't be under 0"
        return Fault("rated_u", text)
    factor = rated.coverage_factor
    if factor is not None and not 1.0 <= factor <= _GREATEST:
        return Fault("coverage", f"has coverage_factor = {factor:g}, which no ± for 95 % has")
    return None


def _typed_trouble(observed: Observed, typed: str, slot: Slot, machine: MachineCard) -> Fault | None:
    """The typed text and the number beside it must say the same."""
    try:
        again = typed_observation(typed, slot, machine)
    except UsageError as error:
        return Fault("typed", f"has a typed reading that is none: {error}")
    same = _same(again.value, observed.value) and again.overload == observed.overload
    one, other = again.rated, observed.rated
    if one is not None or other is not None:
        same = same and one is not None and other is not None
        same = (
            same
            and one is not None
            and other is not None
            and _same(one.rated_voltage_v, other.rated_voltage_v)
        )
    if same:
        return None
    return Fault("by hand", f"says {typed[:40]!r} was typed, but holds another value: it was changed by hand")


def _same(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)


def _bad_time(text: str) -> bool:
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return True
    return when.tzinfo is None or not 1970 < when.year < 2200
