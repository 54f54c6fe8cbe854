"""The parts of a summary: machine, tests, instruments, recordings."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from daq.cards.machine import MachineCard
from daq.cards.open_points import source_of
from daq.job.evidence.observed import Observed
from daq.job.file.state import JobState, KeptReading
from daq.job.judging.verdicts import Line
from daq.job.sheet.steps import AFTER_REPAIR, Slot, load_sheet
from daq.job.status import StepState, StepStatus
from daq.job.streams.stopping import STOP_CAUSES
from daq.job.words import amount, plain, unit_words
from daq.model.counted import times

__all__ = [
    "InstrumentSummary",
    "MachineFact",
    "NotTested",
    "ReadingSummary",
    "RecordingSummary",
    "TestSummary",
    "instruments_of",
    "machine_facts",
    "not_tested",
    "recordings_of",
    "tests_of",
]


class MachineFact(msgspec.Struct, frozen=True):
    """One value of the machine card."""

    label: str
    value: str
    source: str


class ReadingSummary(msgspec.Struct, frozen=True, kw_only=True):
    """One reading of a test."""

    slot: str
    title: str
    text: str
    speed: str
    """"" where it was not recorded."""
    origin: str
    instrument: str
    utc: str
    notes: tuple[str, ...]


class TestSummary(msgspec.Struct, frozen=True, kw_only=True):
    """One test."""

    name: str
    title: str
    round: int
    state: StepState
    purpose: str
    acceptance: str
    tells: str
    lines: tuple[Line, ...]
    readings: tuple[ReadingSummary, ...]
    stop_causes: tuple[str, ...]
    """Where the engine stopped: the usual causes, each with its caution."""
    said: str
    """The verdict that was written down when the readings came in; "" where none was."""
    passed_over: tuple[str, ...] = ()
    """Readings that it did without; they can still be added."""
    run_reasons: tuple[str, ...] = ()
    """What ``result`` says of the recorded AC output beside its verdict, such as the rows that were kept out."""


class NotTested(msgspec.Struct, frozen=True):
    """A test that was not done, and why."""

    title: str
    reason: str


class InstrumentSummary(msgspec.Struct, frozen=True):
    """An instrument and the accuracy it was taken to have."""

    name: str
    measured: str
    accuracy: str
    source: str


class RecordingSummary(msgspec.Struct, frozen=True, kw_only=True):
    """A recording that readings come from."""

    path: str
    """From the job file's folder."""
    digest: str
    round: int
    step: str
    slots: tuple[str, ...]


def machine_facts(card: MachineCard) -> tuple[MachineFact, ...]:
    """The card's values in words, each with its source."""
    facts: list[tuple[str, str, str]] = []
    if card.alternator is not None:
        facts.append(("alternator", "Alternator", card.alternator.words))
    facts.append(("rated_speed_rpm", "Rated test speed", f"{card.rated_speed_rpm:.0f} rpm"))
    facts.append(("speed_tolerance_rpm", "Speed tolerance", f"± {card.speed_tolerance_rpm:.0f} rpm"))
    for key, label, unit in (
        ("idle_speed_rpm", "Idle speed", "rpm"),
        ("minimum_ac_voltage_v", "Least AC volts, unloaded", "V"),
        ("pole_pairs", "Pole pairs", ""),
    ):
        if getattr(card, key) is not None:
            facts.append((key, label, plain(getattr(card, key), unit)))
    for key, label, unit in (
        ("charging_voltage_v", "Charging volts", "V"),
        ("charging_current_a", "Charging amps", "A"),
        ("winding_resistance_ohm", "Winding resistance at 20 °C", "ohm"),
    ):
        if getattr(card, key) is not None:
            low, high = getattr(card, key)
            facts.append((key, label, f"{low:g} to {plain(high, unit)}"))
    facts += _battery_and_loads(card)
    return tuple(MachineFact(label, value, source_of(card, key)) for key, label, value in facts)


def _battery_and_loads(card: MachineCard) -> list[tuple[str, str, str]]:
    facts = []
    if card.battery is not None:
        parts = [f"{card.battery.nominal_voltage_v} V"]
        if card.battery.capacity_ah is not None:
            parts.append(f"{card.battery.capacity_ah:g} Ah ({card.battery.rated_hours:g} h)")
        if card.battery.chemistry is not None:
            parts.append(card.battery.kind)
        facts.append(("battery", "Battery", ", ".join(parts)))
    for load in card.load:
        share = "" if load.share >= 1.0 else f", {100.0 * load.share:.0f} % of the time"
        facts.append(("load", f"Load: {load.name}", f"{plain(load.current_a, 'A')}{share}"))
    if card.duty is not None and card.duty.idle_share is not None:
        facts.append(("duty", "Duty", f"{100.0 * card.duty.idle_share:.0f} % idling"))
    return facts


def tests_of(steps: Sequence[StepStatus], state: JobState) -> tuple[TestSummary, ...]:
    """The tests that have readings."""
    found = []
    for each in steps:
        if each.judgement is None:
            continue
        kept = state.rounds[each.round - 1]
        said = kept.said.get(each.step.name)
        cut = any(observed.stop is not None and observed.troubles for observed in each.observed)
        causes = tuple(f"{c.cause}: {c.look} {c.caution}" for c in STOP_CAUSES) if cut else ()
        readings = []
        for observed in each.observed:
            slot = each.step.slot_named(observed.slot)
            if slot is not None:
                readings.append(_reading(slot, observed, kept.readings.get(slot.name)))
        found.append(
            TestSummary(
                name=each.step.name,
                title=each.step.title,
                round=each.round,
                state=each.state,
                purpose=each.step.purpose,
                acceptance=each.step.acceptance,
                tells=each.step.tells,
                lines=each.judgement.lines,
                readings=tuple(readings),
                stop_causes=causes,
                said=said.verdict if said is not None else "",
                passed_over=tuple(slot.title for slot in each.passed_over),
                run_reasons=_run_reasons(each),
            )
        )
    return tuple(found)


def _run_reasons(step: StepStatus) -> tuple[str, ...]:
    told = " ".join(line.sentence for line in step.judgement.lines) if step.judgement is not None else ""
    found = next((observed.rated for observed in step.observed if observed.rated is not None), None)
    if found is None or found.coverage_factor is None:
        return tuple(each for each in found.reasons if each not in told) if found is not None else ()
    return tuple(
        each for each in found.reasons[1:] if each not in told
    )  # the first is the verdict, told here


def _reading(slot: Slot, observed: Observed, kept: KeptReading | None) -> ReadingSummary:
    text = "none"
    if observed.overload:
        text = "open" if slot.unit == "ohm" else "over range"
    elif observed.value is not None:
        # What a person counted has no doubt.
        count = slot.quantity is None
        text = times(round(observed.value)) if count else amount(observed.value, observed.u, slot.unit)
    return ReadingSummary(
        slot=slot.name,
        title=slot.title,
        text=text,
        speed="" if observed.speed_rpm is None else f"{observed.speed_rpm:.0f} rpm",
        origin=observed.origin,
        instrument=kept.instrument if kept is not None else "",
        utc=kept.utc if kept is not None else "",
        notes=observed.notes,
    )


def not_tested(steps: Sequence[StepStatus]) -> tuple[NotTested, ...]:
    """Tests without a judgement, with the reason."""
    found = []
    for each in steps:
        if each.state == "skipped":
            found.append(NotTested(each.step.title, f"skipped: {each.reason}"))
        elif each.state == "does_not_apply" and each.step.name != AFTER_REPAIR:
            found.append(NotTested(each.step.title, each.reason))
        elif each.state == "open" and each.step.name != AFTER_REPAIR:
            found.append(NotTested(each.step.title, "not done"))
        elif each.state == "partial":
            names = ", ".join(slot.title for slot in each.missing)
            found.append(NotTested(each.step.title, f"not finished: {names}"))
    return tuple(found)


def instruments_of(state: JobState) -> tuple[InstrumentSummary, ...]:
    """What measured, and how well it was taken to."""
    sheet = load_sheet()
    found: dict[tuple[str, str, str], InstrumentSummary] = {}
    for kept in (reading for round_ in state.rounds for reading in round_.readings.values()):
        observed, step = kept.observed, sheet.step_of_slot(kept.observed.slot)
        slot = step.slot_named(observed.slot) if step is not None else None
        if slot is None or slot.quantity is None:
            continue
        name = kept.instrument or "not named"
        if observed.accuracy_source.startswith("card "):
            name = observed.accuracy_source.removeprefix("card ")
        measured = slot.quantity.value.replace("_", " ")
        accuracy = f"± {100.0 * observed.share:g} %"
        if observed.counts > 0.0:
            accuracy += f" ± {observed.counts:g} {unit_words(slot.unit)}"
        found[(name, measured, accuracy)] = InstrumentSummary(
            name, measured, accuracy, observed.accuracy_source
        )
    return tuple(found.values())


def recordings_of(state: JobState) -> tuple[RecordingSummary, ...]:
    """The recordings with their digests, and what was read from each."""
    sheet = load_sheet()
    slots: dict[tuple[int, str, str, str], list[str]] = {}
    for number, round_ in enumerate(state.rounds, start=1):
        for kept in (*round_.earlier, *round_.readings.values()):
            step = sheet.step_of_slot(kept.observed.slot)
            if kept.recording is not None and step is not None:
                key = (number, kept.recording.path, kept.recording.digest, step.name)
                slots.setdefault(key, []).append(kept.observed.slot)
    return tuple(
        RecordingSummary(path=path, digest=digest, round=number, step=step, slots=tuple(dict.fromkeys(names)))
        for (number, path, digest, step), names in slots.items()
    )
