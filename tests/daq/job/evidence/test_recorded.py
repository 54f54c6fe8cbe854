"""What a recording says for a slot: the right part of it, or what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from daq.catalog import machine_card
from daq.job.evidence.observed import Observed
from daq.job.evidence.recorded import observe_recording
from daq.job.evidence.trouble import TroubleKind
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.recording.entries import StepEntry
from daq.run.recorded import open_recording
from tests.daq.job.bench_job import BenchJob, write_recording
from tests.daq.job.builders import slot_of, step_of

MACHINE = machine_card("nursery-sprayer")


def observe(path: Path, step: str, slot: str) -> Observed:
    return observe_recording(open_recording(path, machine=MACHINE), step_of(step), slot_of(slot), MACHINE)


def made(path: Path, quantity: Quantity, values: Sequence[float | None], **kwargs: object) -> Path:
    """A recording with a reading each 0.3 s, None being over range, the engine standing."""
    readings = []
    for i, value in enumerate(values):
        quality = Quality.GOOD if value is not None else Quality.OVERLOAD
        readings.append(Reading(0, i * 300_000_000, value, quality))
        readings.append(Reading(1, i * 300_000_000 + 1000, float(kwargs.get("rpm", 0.0))))  # type: ignore[arg-type]  # rpm is a float
    return write_recording(path, quantity, readings, kwargs.get("entries", ()))  # type: ignore[arg-type]  # entries are entries


@pytest.fixture(scope="module")
def hold(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Amps into the battery: idle, then test speed."""
    bench = BenchJob(tmp_path_factory.mktemp("hold"))
    return bench.record(Quantity.DC_CURRENT, "battery_current", "hold", 14.0)


def test_idle_and_test_speed_are_told_apart_by_the_speed(hold: Path) -> None:
    work, idle = observe(hold, "charging", "current_work"), observe(hold, "charging", "current_idle")
    assert work.value is not None
    assert idle.value is not None
    assert work.value > 3.0
    assert idle.value < -2.0
    assert work.speed_rpm == pytest.approx(3590, abs=40)
    assert idle.speed_rpm == pytest.approx(1800, abs=40)
    assert [point.speed_rpm > 2500 for point in work.curve] == [False, True]


def test_the_accuracy_is_the_cards(hold: Path) -> None:
    work = observe(hold, "charging", "current_work")
    assert [work.share, work.counts] == pytest.approx([0.005, 0.02])
    assert work.accuracy_source == "card bench-amps"


def test_the_speed_itself_is_a_reading(hold: Path) -> None:
    speed = observe(hold, "charging", "governed_speed")
    assert speed.value == pytest.approx(3590, abs=40)


def test_the_wrong_function_is_named(hold: Path) -> None:
    found = observe(hold, "charging", "voltage_work")
    assert found.troubles[0].kind is TroubleKind.WRONG_FUNCTION
    assert "holds dc current, rotational speed but no dc voltage" in found.troubles[0].text


def test_an_engine_that_runs_while_it_should_stand(hold: Path) -> None:
    found = observe(hold, "loads", "load_current")
    assert found.troubles[0].kind is TroubleKind.WRONG_ENGINE_STATE
    assert not found.usable


def test_an_engine_that_stands_while_it_should_run(tmp_path: Path) -> None:
    path = made(tmp_path / "r.jsonl", Quantity.DC_CURRENT, [-6.0] * 20)
    found = observe(path, "charging", "current_work")
    assert found.troubles[0].kind is TroubleKind.WRONG_ENGINE_STATE


def test_a_recording_of_another_step_is_kept_and_not_judged(tmp_path: Path) -> None:
    entry = StepEntry(t_ns=0, step="loads", state="started")
    path = made(tmp_path / "r.jsonl", Quantity.DC_VOLTAGE, [12.5] * 20, entries=[entry])
    found = observe(path, "battery_rest", "rest_voltage")
    assert found.troubles[0].kind is TroubleKind.WRONG_STEP
    assert "recorded in the step 'loads'" in found.troubles[0].text
    assert observe(path, "loads", "loaded_voltage").value == pytest.approx(12.5)


def test_only_the_steps_own_part_of_a_long_recording_counts(tmp_path: Path) -> None:
    entries = [
        StepEntry(t_ns=0, step="battery_rest", state="started"),
        StepEntry(t_ns=3_000_000_000, step="battery_rest", state="done"),
        StepEntry(t_ns=4_000_000_000, step="loads", state="started"),
    ]
    path = made(tmp_path / "r.jsonl", Quantity.DC_VOLTAGE, [12.6] * 11 + [12.0] * 20, entries=entries)
    assert observe(path, "battery_rest", "rest_voltage").value == pytest.approx(12.6)
    assert observe(path, "loads", "loaded_voltage").value == pytest.approx(12.0)


def test_over_range_ohms_are_an_open_circuit_and_a_slip_of_the_tips_is_not(tmp_path: Path) -> None:
    open_path = made(tmp_path / "open.jsonl", Quantity.RESISTANCE, [None] * 12)
    assert observe(open_path, "winding_resistance", "winding_resistance").overload
    slipped = made(tmp_path / "slip.jsonl", Quantity.RESISTANCE, [None, 9.0, None] + [0.27, 0.28] * 8)
    found = observe(slipped, "winding_resistance", "winding_resistance")
    assert not found.overload
    assert found.value == pytest.approx(0.275, abs=0.002)


def test_digits_that_never_move_leave_their_doubt(tmp_path: Path) -> None:
    still = made(tmp_path / "still.jsonl", Quantity.RESISTANCE, [0.27] * 20)
    moving = made(tmp_path / "moving.jsonl", Quantity.RESISTANCE, [0.27, 0.28] * 10)
    assert observe(still, "winding_resistance", "winding_resistance").digit == pytest.approx(0.01)
    assert observe(moving, "winding_resistance", "winding_resistance").digit == 0.0


def test_a_wiggle_is_watched_for_openings(tmp_path: Path) -> None:
    path = made(tmp_path / "w.jsonl", Quantity.RESISTANCE, [0.27] * 100 + [None] * 2 + [0.27] * 100)
    found = observe(path, "wiggle", "wiggle_watch")
    assert len(found.openings) == 1
    assert found.openings[0].length_s == pytest.approx(0.6)
    assert found.span_s == pytest.approx(60.3)


def test_a_count_can_not_come_from_a_recording(hold: Path) -> None:
    assert observe(hold, "wiggle", "wiggle_count").troubles[0].kind is TroubleKind.NO_VALUE


@pytest.mark.parametrize(
    ("quantity", "place", "step", "slot"),
    [
        (Quantity.AC_VOLTAGE, "stator", "ac_output", "output"),
        (Quantity.DC_CURRENT, "rectifier_current", "rectifier_output", "output_current"),
        (Quantity.DC_CURRENT, "battery_current", "charging", "current_work"),
        (Quantity.DC_VOLTAGE, "battery", "charging", "voltage_work"),
    ],
)
def test_an_engine_that_stops_by_itself_cuts_the_step_short(
    quantity: Quantity, place: str, step: str, slot: str, tmp_path: Path
) -> None:
    path = BenchJob(tmp_path).record(quantity, place, "hold", 16.0, stop_at_s=8.0)
    found = observe(path, step, slot)
    assert [trouble.kind for trouble in found.troubles] == [TroubleKind.CUT_SHORT]
    assert found.stop is not None
    assert found.stop.at_s == pytest.approx(9.5, abs=2.0)
    assert "stopped by itself" in found.troubles[0].text


@pytest.mark.parametrize("before_end_s", [2.0, 4.4])
@pytest.mark.parametrize(
    ("quantity", "place", "step", "slot"),
    [
        (Quantity.AC_VOLTAGE, "stator", "ac_output", "output"),
        (Quantity.DC_CURRENT, "rectifier_current", "rectifier_output", "output_current"),
        (Quantity.DC_VOLTAGE, "battery", "charging", "voltage_work"),
    ],
)
def test_a_stop_just_before_the_end_cuts_the_step_short_too(
    quantity: Quantity, place: str, step: str, slot: str, before_end_s: float, tmp_path: Path
) -> None:
    path = BenchJob(tmp_path).record(quantity, place, "work", 10.0, stop_at_s=10.0 - before_end_s)
    found = observe(path, step, slot)
    assert [trouble.kind for trouble in found.troubles] == [TroubleKind.CUT_SHORT]
    assert found.stop is not None
    assert found.stop.at_end
    assert found.stop.at_s == pytest.approx(10.0 - before_end_s, abs=0.6)
    assert "just before the recording ended" in found.troubles[0].text


def test_a_fall_in_the_last_second_is_told_though_it_may_be_the_throttle(tmp_path: Path) -> None:
    path = BenchJob(tmp_path).record(Quantity.DC_VOLTAGE, "battery", "work", 10.0, stop_at_s=8.5)
    found = observe(path, "charging", "voltage_work")
    assert found.usable
    assert any(note.startswith("The speed was falling when the recording ended") for note in found.notes)


def test_a_run_that_ends_at_idle_or_in_a_sweep_says_nothing_of_a_stop(tmp_path: Path) -> None:
    path = BenchJob(tmp_path).record(Quantity.AC_VOLTAGE, "stator", "sweep", 25.0)
    found = observe(path, "ac_output", "output")
    assert found.stop is None
    assert not any("speed was falling" in note for note in found.notes)


def test_a_stop_after_the_reading_was_done_is_told_and_does_not_spoil_it(tmp_path: Path) -> None:
    path = BenchJob(tmp_path).record(Quantity.DC_CURRENT, "rectifier_current", "work", 24.0, stop_at_s=16.0)
    found = observe(path, "rectifier_output", "output_current")
    assert found.usable
    assert found.value == pytest.approx(10.7, abs=1.0)
    assert any("The engine stopped at" in note for note in found.notes)


def test_ac_volts_with_speed_are_brought_to_rated_speed_with_their_shape(tmp_path: Path) -> None:
    bench = BenchJob(tmp_path, "shorted_turns", seed=4)
    path = bench.record(Quantity.AC_VOLTAGE, "stator", "sweep", 31.0)
    found = observe(path, "ac_output", "output").rated
    assert found is not None
    assert found.rated_voltage_v == pytest.approx(bench.bench.machine.rated_v(), abs=0.3)
    assert found.offset_v is not None
    assert found.u_offset_v is not None
    assert found.offset_v > 3.0 * found.u_offset_v


@pytest.mark.parametrize("stop_at_s", [4.0, 9.0, 10.5])
@pytest.mark.parametrize("seed", [5, 11])
def test_a_late_stop_of_a_sound_machine_is_cut_short_and_no_fault(
    stop_at_s: float, seed: int, tmp_path: Path
) -> None:
    bench = BenchJob(tmp_path, "healthy", seed=seed)
    path = bench.record(Quantity.AC_VOLTAGE, "stator", "work", 16.0, stop_at_s=stop_at_s)
    found = observe(path, "ac_output", "output")
    assert [trouble.kind for trouble in found.troubles] == [TroubleKind.CUT_SHORT]
    assert found.rated is not None
    assert found.rated.dropouts == 0
    assert found.rated.offset_v is None


def test_a_stop_after_a_whole_run_leaves_it_judged_and_makes_no_dropout(tmp_path: Path) -> None:
    path = BenchJob(tmp_path, seed=5).record(Quantity.AC_VOLTAGE, "stator", "work", 44.0, stop_at_s=36.0)
    found = observe(path, "ac_output", "output")
    assert found.usable
    assert found.rated is not None
    assert found.rated.dropouts == 0
    assert found.rated.offset_v is None
    assert any("The engine stopped at" in note for note in found.notes)
