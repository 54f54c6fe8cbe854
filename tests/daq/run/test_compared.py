"""Two runs of which one states no output: why, what can be put side by side all the same, and what to do next."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest

from daq.catalog import machine_card
from daq.locking import lock_for_writing
from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.run.compared import compare_recorded
from daq.run.recorded import RecordedRun, open_recording
from tests.daq.job.bench_job import write_recording

MACHINE = machine_card("nursery-sprayer")


def run(
    folder: Path,
    name: str,
    *,
    volts: float | None = 28.0,
    speed_rpm: float | None = 3600.0,
    dropouts: bool = False,
    quantity: Quantity = Quantity.AC_VOLTAGE,
    known: bool = True,
) -> RecordedRun:
    """Twenty seconds at one speed; ``dropouts``: the volts fall away again and again, so nothing is stated."""
    readings = []
    for number in range(66):
        gone = dropouts and number % 13 in {5, 6}
        value = None if volts is None else (0.01 if gone else volts + 0.01 * (number % 3))
        readings.append(Reading(0, number * 300_000_000, value))
        if speed_rpm is not None:
            readings.append(Reading(1, number * 300_000_000 + 1000, speed_rpm + 2.0 * (number % 5)))
    path = write_recording(folder / f"{name}.jsonl", quantity, readings, (), datetime(2026, 3, 2, tzinfo=UTC))
    return open_recording(path, machine=MACHINE if known else None)


@pytest.fixture
def sound(tmp_path: Path) -> RecordedRun:
    return run(tmp_path, "sound")


def test_a_pair_that_can_be_compared_is_as_it_was(sound: RecordedRun) -> None:
    change = compare_recorded(sound, sound)
    assert change.change_V == 0.0
    assert len(change.reasons) == 1


def test_which_run_states_none_and_why_and_what_to_do(sound: RecordedRun, tmp_path: Path) -> None:
    change = compare_recorded(run(tmp_path, "joint", dropouts=True), sound)
    assert change.change_V is None
    first, why, alone, speed, volts, do, repaired = change.reasons
    assert first == "The run before states no rated output, the run after does: there is no change to state."
    assert why.startswith("Why the run before states none: The volts fell away")
    assert alone.startswith("The run after alone: 27.98 V ± ")
    assert alone.endswith("at rated speed against a limit of 20 V: pass.")
    assert speed == "Speed: 3600 to 3608 rpm before, 3600 to 3608 rpm after."
    assert volts.startswith("AC volts as read near 36")
    assert "about the same. That is a hint and no proof" in volts
    assert do.startswith("What to do: record the run before again with the stator unplugged")
    assert repaired.startswith("If the machine was repaired meanwhile, the run before can't be had again")


def test_the_other_way_round_it_is_the_run_after(sound: RecordedRun, tmp_path: Path) -> None:
    weak = run(tmp_path, "joint", volts=16.0, dropouts=True)
    said = compare_recorded(sound, weak).reasons
    assert (
        said[0] == "The run after states no rated output, the run before does: there is no change to state."
    )
    assert any(
        "28.01 V before" in each and "16.01 V after" in each and "lower after" in each for each in said
    )
    assert said[-1].startswith("What to do: record the run after again")


def test_neither_states_one_for_want_of_a_machine_card(tmp_path: Path) -> None:
    one, other = (run(tmp_path, name, known=False) for name in ("one", "other"))
    said = compare_recorded(one, other).reasons
    assert said[0] == "Neither run states a rated output, so there is no change to state."
    assert [each for each in said if each.startswith("Why the run")] == [
        f"Why the run {name} states none: No rated test speed is known: name a machine card with --machine."
        for name in ("before", "after")
    ]
    assert said[-1] == "What to do: name the machine card with --machine, so that the rated speed is known."


def test_runs_that_never_had_one_speed_say_so(tmp_path: Path) -> None:
    slow = run(tmp_path, "slow", volts=14.0, speed_rpm=1800.0, dropouts=True)
    fast = run(tmp_path, "fast", dropouts=True)
    said = compare_recorded(slow, fast).reasons
    assert "Their AC volts can't be put side by side: the two never ran at one speed." in said
    assert "Speed: 1800 to 1808 rpm before, 3600 to 3608 rpm after." in said


def test_other_quantities_that_both_have_are_told(sound: RecordedRun, tmp_path: Path) -> None:
    flat, full = (
        run(tmp_path, name, volts=volts, quantity=Quantity.DC_VOLTAGE)
        for name, volts in (("a", 12.1), ("b", 14.2))
    )
    said = compare_recorded(flat, full).reasons
    assert (
        "The middle of all DC voltage readings: 12.11 V before, 14.21 V after; no uncertainty goes with it."
        in said
    )
    mixed = compare_recorded(run(tmp_path, "c", speed_rpm=None, quantity=Quantity.DC_VOLTAGE), sound).reasons
    assert (
        "The two runs have no quantity in common that could be put side by side." not in mixed
    )  # after alone
    none = compare_recorded(
        run(tmp_path, "d", speed_rpm=None, quantity=Quantity.DC_VOLTAGE),
        run(tmp_path, "e", speed_rpm=None, quantity=Quantity.RESISTANCE),
    ).reasons
    assert "The two runs have no quantity in common that could be put side by side." in none


def of_machine(run_of: RecordedRun, **changes: str) -> RecordedRun:
    """The same run with another card written into it."""
    card = msgspec.structs.replace(MACHINE, **changes)
    path = run_of.recording.path
    entry = msgspec.json.encode({"entry": "machine", "card": msgspec.to_builtins(card)})
    first, *rest = path.read_bytes().splitlines()
    other = path.with_stem(f"{path.stem}-{card.name}")
    other.write_bytes(b"\n".join([first, entry, *(line for line in rest if b'"machine"' not in line), b""]))
    return open_recording(other)


def test_two_machines_are_told(tmp_path: Path) -> None:
    sound = of_machine(run(tmp_path, "sound"))
    other = of_machine(run(tmp_path, "other", volts=39.0), name="nursery-pump", title="Well pump")
    change = compare_recorded(sound, other)
    assert change.same_machine is False
    assert change.significant
    assert change.reasons[1].startswith(
        f"The machines differ, “{MACHINE.title}” before and “Well pump” after"
    )
    alike = compare_recorded(sound, sound)
    assert alike.same_machine is True
    assert not any("machines" in reason for reason in alike.reasons)


def test_a_run_that_is_still_being_recorded_is_told(tmp_path: Path) -> None:
    sound = run(tmp_path, "sound")
    open_end = tmp_path / "now.jsonl"
    open_end.write_bytes(
        b"".join(
            line for line in sound.recording.path.read_bytes().splitlines(True) if b'"close"' not in line
        )
    )
    with open_end.open("rb+") as held:
        lock_for_writing(held.fileno())
        change = compare_recorded(open_recording(open_end, machine=MACHINE), sound)
    assert any(reason.startswith("The run before is still being recorded") for reason in change.reasons)
