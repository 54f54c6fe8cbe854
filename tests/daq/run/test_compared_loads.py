"""A load in one run only is no change of the alternator: what a comparison says of it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import msgspec
import numpy as np
import pytest

from daq.catalog import machine_card
from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.entries import ChannelEntry
from daq.run.compared import compare_recorded
from daq.run.recorded import RecordedRun, open_recording
from daq.verdict.change import Change
from tests.daq.job.bench_job import write_recording
from tui.comparing import _side
from tui.view.compare import CompareView, compare_view

MACHINE = machine_card("nursery-sprayer")


def run(
    folder: Path,
    name: str,
    rated_v: float,
    *,
    sweep: bool = False,
    other: tuple[Quantity, float] | None = None,
    held_v: float | None = None,
) -> RecordedRun:
    """Forty seconds; ``other``: a further channel and its value; ``held_v``: the volts rise no further."""
    readings = []
    for number in range(130):
        t_s = 0.3 * number
        speed = 3000.0 + 700.0 * np.sin(t_s / 6.0) if sweep else 3600.0 + 2.0 * (number % 5)
        volts = rated_v * speed / 3600.0 + 0.005 * (number % 3)
        readings.append(Reading(0, round(t_s * 1e9), float(min(volts, held_v or volts))))
        readings.append(Reading(1, round(t_s * 1e9) + 1000, float(speed)))
        if other is not None:
            readings.append(Reading(2, round(t_s * 1e9) + 2000, other[1]))
    more = [] if other is None else [_channel(other[0])]
    path = folder / f"{name}.jsonl"
    write_recording(path, Quantity.AC_VOLTAGE, readings, more, datetime(2026, 3, 2, tzinfo=UTC))
    return open_recording(path, machine=MACHINE)


def _channel(quantity: Quantity) -> ChannelEntry:
    return ChannelEntry(
        channel=2,
        quantity=quantity,
        unit=quantity.unit,
        instrument="second-meter",
        address="port 2",
        card={},
        card_channel=0,
    )


def shown(change: Change, before: RecordedRun, after: RecordedRun) -> CompareView:
    return compare_view(change, _side(before), _side(after))


def test_runs_at_one_speed_do_not_show_what_was_connected(tmp_path: Path) -> None:
    before, after = run(tmp_path, "a", 28.0), run(tmp_path, "b", 24.0)
    change = compare_recorded(before, after)
    assert (change.significant, change.loads_differ) == (True, None)
    assert change.reasons[1] == (
        "Whether something was connected in either run can't be told: both stayed near one speed. A load or a "
        "regulator that is connected in one run only makes such a change too: see that the AC leads were unplugged in "
        "both; one sweep up and down would show it."
    )
    assert (change.reasons[1], "doubt") in shown(change, before, after).told


def test_only_the_run_that_does_not_show_it_is_named(tmp_path: Path) -> None:
    change = compare_recorded(run(tmp_path, "a", 28.0, sweep=True), run(tmp_path, "b", 24.0))
    assert change.loads_differ is None
    assert change.reasons[1].startswith(
        "Whether something was connected in the run after can't be told: the run after stayed near one speed."
    )


def test_two_sweeps_in_proportion_leave_only_plain_resistance(tmp_path: Path) -> None:
    change = compare_recorded(run(tmp_path, "a", 28.0, sweep=True), run(tmp_path, "b", 24.0, sweep=True))
    assert change.loads_differ is False
    assert change.reasons[1].startswith("In both runs the volts are in proportion to speed")


@pytest.mark.parametrize("sweep", [False, True])
def test_where_nothing_changed_nothing_is_said_of_loads(tmp_path: Path, sweep: bool) -> None:
    one = run(tmp_path, "a", 28.0, sweep=sweep)
    change = compare_recorded(one, one)
    assert change.significant is False
    assert len(change.reasons) == 1


@pytest.mark.parametrize("loaded_first", [False, True])
def test_a_battery_that_is_charged_in_one_run_is_told_as_a_load(tmp_path: Path, loaded_first: bool) -> None:
    loaded = run(tmp_path, "loaded", 24.0, other=(Quantity.DC_VOLTAGE, 14.2))
    free = run(tmp_path, "free", 28.0)
    pair = (loaded, free) if loaded_first else (free, loaded)
    name, other = ("before", "after") if loaded_first else ("after", "before")
    change = compare_recorded(*pair)
    assert change.change_V is not None
    assert change.loads_differ is True
    assert msgspec.json.decode(msgspec.json.encode(change))["loads_differ"] is True
    assert change.reasons[1].startswith(
        f"The loads differ: in the run {name} the battery stood at 14.2 V, as when it is charged, in the run {other} "
        "nothing shows that."
    )
    view = shown(change, *pair)
    assert (view.meaning.words, view.meaning.tone, view.meaning.chance) == (
        "loads differ",
        "doubt",
        "no repair shown",
    )
    assert (change.reasons[1], "doubt") in view.told


def test_amps_that_flowed_in_one_run_are_told_though_it_states_no_output(tmp_path: Path) -> None:
    change = compare_recorded(
        run(tmp_path, "free", 28.0), run(tmp_path, "loaded", 24.0, other=(Quantity.DC_CURRENT, 6.2))
    )
    assert (change.change_V, change.loads_differ) == (None, True)
    assert any(each.startswith("The loads differ: in the run after 6.2 A loaded") for each in change.reasons)


def test_volts_that_stand_still_are_a_load(tmp_path: Path) -> None:
    held = run(tmp_path, "held", 28.0, sweep=True, held_v=22.0)
    change = compare_recorded(run(tmp_path, "free", 28.0, sweep=True), held)
    assert change.loads_differ is True
    assert any("the volts stay at about 22.0 V while the speed" in each for each in change.reasons)


def test_loads_in_both_runs_compare_nothing_either(tmp_path: Path) -> None:
    loaded = run(tmp_path, "loaded", 24.0, other=(Quantity.DC_CURRENT, 6.2))
    change = compare_recorded(loaded, loaded)
    assert change.loads_differ is None
    assert any(
        each.startswith("Something was connected in both runs: before 6.2 A") for each in change.reasons
    )
