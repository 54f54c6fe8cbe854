"""The charging judgement and the charge budget on a real charge with uneven stamps (check D1).

Data: see data/README.md (npm signalk-server 2.23.0, samples/aava-n2k.data, Apache-2.0). VERIFIED: the counts,
extremes and steps below are those found when the package was looked through; the integrals are recomputed here by
another way than the project's. Battery, loads and machine are invented.
"""

from __future__ import annotations

import csv
import hashlib
from datetime import datetime
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass, BatteryCard, LoadCard
from daq.job.charge.budget import charge_budget
from daq.job.charge.budget_words import budget_sentence
from daq.job.charge.series_balance import SeriesBalance, balance_of
from daq.job.evidence.observed import Observed
from daq.job.evidence.plausible import plausibility
from daq.job.evidence.recorded import observe_recording
from daq.job.judging.charging import judge_charging
from daq.job.judging.given import Given
from daq.job.sheet.steps import load_sheet
from daq.job.streams.weighted import time_mean
from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.entries import ChannelEntry, SessionEntry
from daq.recording.writer import RecordingWriter
from daq.run.recorded import open_recording
from tests.outside.published import held_against

FILE = Path(__file__).parent / "data" / "battery_charging.csv"
SHA256 = "6e6d34e6df3415ce4532a0b2650d89e8e3cee67475ca883b0c691c664613322a"

BOAT = MachineCard(
    name="house-bank",
    title="An invented machine with a large battery",
    rated_speed_rpm=3600,
    alternator=AlternatorClass.REGULATED,
    charging_voltage_v=(13.8, 14.8),
    battery=BatteryCard(nominal_voltage_v=12, capacity_ah=400, chemistry="agm"),
    load=(LoadCard(name="pumps", current_a=60.0, share=0.5),),
)


def columns() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Seconds since the first reading, volts, amps."""
    with FILE.open(newline="") as file:
        rows = list(csv.DictReader(file))
    start = datetime.fromisoformat(rows[0]["utc"])
    time_s = [(datetime.fromisoformat(row["utc"]) - start).total_seconds() for row in rows]
    volts, amps = ([float(row[key]) for row in rows] for key in ("voltage_V", "current_A"))
    return np.array(time_s), np.array(volts), np.array(amps)


TIME_S, VOLTS, AMPS = columns()


@pytest.fixture(scope="module")
def balance() -> SeriesBalance:
    return balance_of(TIME_S, VOLTS, AMPS, share=0.01, counts_a=0.1)


@held_against("D1")
def test_the_data_is_what_was_taken_from_the_package() -> None:
    assert hashlib.sha256(FILE.read_bytes()).hexdigest() == SHA256
    step = np.diff(TIME_S)
    assert len(TIME_S) == 1005
    assert (VOLTS.min(), VOLTS.max(), AMPS.max()) == (12.49, 14.59, 232.8)
    assert TIME_S[-1] == pytest.approx(564.4, abs=0.05)
    assert (step.min(), step.max()) == (pytest.approx(0.003), pytest.approx(1.931))
    assert float(np.median(step)) == pytest.approx(0.517, abs=0.001)


@held_against("D1")
def test_the_ampere_hours_by_another_way(balance: SeriesBalance) -> None:
    """A grid of 10 ms with straight lines between the readings, summed: no trapezoids."""
    series = pd.Series(AMPS, index=pd.to_timedelta(TIME_S, unit="s"))
    grid = pd.timedelta_range(0, series.index[-1], freq="10ms")
    even = series.reindex(series.index.union(grid)).interpolate(method="time").reindex(grid)
    assert balance.charge_ah == pytest.approx(float(even.sum()) * 0.01 / 3600.0, rel=2e-4)
    assert balance.gaps == 0
    assert balance.covered_s == pytest.approx(564.4, abs=0.05)


def test_counting_readings_instead_of_time_would_be_wrong(balance: SeriesBalance) -> None:
    assert abs(float(np.mean(AMPS)) / balance.mean_current_a - 1.0) > 0.01


def test_thinning_the_readings_unevenly_hardly_moves_the_time_mean(balance: SeriesBalance) -> None:
    """Three of four readings of the first minutes left out: the plain mean moves far, the time mean does not."""
    keep = (TIME_S > 200.0) | (np.arange(len(TIME_S)) % 4 == 0)
    assert float(np.mean(AMPS[keep])) < 0.8 * float(np.mean(AMPS))
    assert time_mean(TIME_S[keep], AMPS[keep]).mean == pytest.approx(balance.mean_current_a, rel=0.02)


def test_a_cut_out_stretch_is_a_gap_and_not_bridged(balance: SeriesBalance) -> None:
    keep = (TIME_S < 100.0) | (TIME_S > 160.0)
    cut = balance_of(TIME_S[keep], VOLTS[keep], AMPS[keep])
    assert cut.gaps == 1
    assert cut.gap_s == pytest.approx(60.0, abs=2.0)
    assert cut.covered_s == pytest.approx(balance.covered_s - cut.gap_s, abs=1e-6)
    assert cut.charge_ah < balance.charge_ah - 2.0


def test_held_volts_taper_and_dips_are_seen(balance: SeriesBalance) -> None:
    held = balance.held
    assert held is not None
    assert held.voltage_v == pytest.approx(14.54, abs=0.02)
    assert held.tapers
    assert held.last_current_a < 30.0 < 150.0 < held.first_current_a
    assert held.dips >= 1
    assert any("the battery fills" in sentence for sentence in balance.sentences)


def test_the_first_minute_holds_no_volts() -> None:
    early = TIME_S < 60.0
    held = balance_of(TIME_S[early], VOLTS[early], AMPS[early]).held
    assert held is None or not held.tapers


def recorded(folder: Path) -> Path:
    """The data as a recording of two channels, stamps as they were."""
    path = folder / "charge.jsonl"
    session = SessionEntry(program="spinvolt test", started_utc="2014-08-15T19:00:35.359Z", source="import")
    with RecordingWriter.create(path, session, force=False) as writer:
        for channel, quantity in enumerate((Quantity.DC_VOLTAGE, Quantity.DC_CURRENT)):
            writer.write(
                [
                    ChannelEntry(
                        channel=channel,
                        quantity=quantity,
                        unit=quantity.unit,
                        instrument="log",
                        address="battery_charging.csv",
                        card={},
                        card_channel=0,
                    )
                ]
            )
        for t_s, volts, amps in zip(TIME_S, VOLTS, AMPS, strict=True):
            t_ns = round(float(t_s) * 1e9)
            writer.write([Reading(0, t_ns, float(volts)), Reading(1, t_ns, float(amps))])
        writer.flush()
        writer.close(round(float(TIME_S[-1]) * 1e9), "done")
    return path


def readings(folder: Path) -> dict[str, Observed]:
    run = open_recording(recorded(folder), machine=BOAT)
    step = load_sheet().step_named("charging")
    assert step is not None
    found = {}
    for name in ("voltage_work", "current_work"):
        slot = step.slot_named(name)
        assert slot is not None
        found[name] = observe_recording(run, step, slot, BOAT)
        assert plausibility(found[name], slot, BOAT) == ()
    return found


@held_against("D1")
def test_the_charging_judgement_on_it(tmp_path: Path) -> None:
    found = readings(tmp_path)
    assert all("speed was not recorded" in " ".join(each.notes) for each in found.values())
    assert found["current_work"].value == pytest.approx(109.97, abs=0.05)
    assert found["current_work"].readings == 1005
    judgement = judge_charging(Given(BOAT, found))
    assert judgement.verdict == "pass"
    strength = {finding.name: finding.strength for finding in judgement.findings}
    assert strength["charging_good"] > 0.999
    assert "overcharging" not in strength


@held_against("D1")
def test_the_charge_budget_on_it(tmp_path: Path) -> None:
    """With an invented duty: pumps of 60 A that were on, and are on for half of the time."""
    budget = charge_budget(Given(BOAT, readings(tmp_path)))
    assert budget is not None
    assert budget.carries == "yes"
    assert budget.all_on_at_work is not None
    assert budget.at_work is not None
    assert budget.all_on_at_work.value == pytest.approx(109.97, abs=0.05)
    assert budget.at_work.value == pytest.approx(109.97 + 30.0, abs=0.05)
    assert budget_sentence(budget).startswith("At work speed it gains at least 1")
    assert budget.at_least_only
    assert any("holding back" in note for note in budget.notes)


def test_the_doubt_of_the_charge_is_the_meters(balance: SeriesBalance) -> None:
    """±(1 % + 0.1 A), rectangular, over 564.4 s."""
    expected = (0.01 * balance.charge_ah + 0.1 * balance.covered_s / 3600.0) / 3**0.5
    assert balance.u_charge_ah == pytest.approx(expected)


def test_dips_by_another_way(balance: SeriesBalance) -> None:
    """Runs of readings more than 3 % under 14.54 V, once the volts first came there."""
    held = balance.held
    assert held is not None
    first = int(np.argmax(np.abs(VOLTS - 14.54) <= 0.145))
    low = VOLTS[first:] < 0.97 * 14.54
    runs = sum(1 for before, now in zip([False, *low[:-1]], low, strict=True) if now and not before)
    assert held.dips == runs


def test_the_doubt_of_the_mean_has_the_meters_part_and_the_scatters() -> None:
    steady = np.full(len(TIME_S), 100.0)
    found = balance_of(TIME_S, VOLTS, steady, share=0.01, counts_a=0.5)
    assert found.mean_current_a == pytest.approx(100.0)
    assert found.u_mean_current_a == pytest.approx(1.5 / 3**0.5)
