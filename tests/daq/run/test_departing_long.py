"""Rows that depart among very many: none is passed over by the quick look, and nothing is seen where none is."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.align.lag import LagEstimate
from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.parts import LONG
from daq.align.synchronizer import AlignmentParameters, PairedRows
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, RatedOutput, rated_output
from daq.run.departing_none import surely_none_departs

COUNT = LONG + 1000
LAG = LagEstimate(0.1, 0.02, determined=True)
LIMITS = InstrumentLimits(True, 0.01, 3.0, 0.01)


@pytest.fixture(scope="module")
def steady() -> Pairing:
    """Volts bent by 3 % over the speeds, with scatter; all rows good."""
    rng = np.random.default_rng(8)
    time_s = 0.1 * np.arange(float(COUNT))
    speed = 3500.0 + 200.0 * np.sin(0.05 * time_s)
    volts = speed / 150.0 * (1.0 - 0.03 * np.square(speed / 3600.0 - 1.0) / 0.1**2)
    volts += rng.normal(0.0, 0.03, COUNT)
    rows = PairedRows(time_s, volts, speed, np.gradient(speed, 0.1), np.zeros(COUNT, np.bool_))
    parameters = AlignmentParameters(0.1, 0.1, "contiguous", 0.1, 0.3)
    return Pairing(rows, np.zeros(COUNT, np.uint8), parameters, LAG, 0.02, model_chosen=True, gaps=0)


def output_of(pairing: Pairing) -> RatedOutput:
    rows = pairing.rows
    counted = CountedRows(rows.time_s, rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    found = rated_output(counted, 3600.0, LAG, LIMITS, LIMITS)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def output(steady: Pairing) -> RatedOutput:
    return output_of(steady)


def none_departs(pairing: Pairing, output: RatedOutput) -> bool:
    return surely_none_departs(output, pairing, 0.01, 1.0)


def changed(pairing: Pairing, places: slice, factor: float) -> Pairing:
    volts = pairing.rows.voltage_v.copy()
    volts[places] *= factor
    return replace(pairing, rows=replace(pairing.rows, voltage_v=volts))


def test_a_bend_and_scatter_are_no_departure(steady: Pairing, output: RatedOutput) -> None:
    assert none_departs(steady, output)


@pytest.mark.parametrize("place", [0, 1, 65_535, 65_536, 123_457, COUNT - 1])
@pytest.mark.parametrize("factor", [0.3, 0.92, 1.08])
def test_one_row_anywhere_is_seen(steady: Pairing, output: RatedOutput, place: int, factor: float) -> None:
    assert not none_departs(changed(steady, slice(place, place + 1), factor), output)


def test_two_levels_about_equally_many_are_seen(steady: Pairing) -> None:
    # In turn, so that neither the scatter nor that from row to row is small beside the gap between them.
    two = changed(steady, slice(0, COUNT, 2), 0.9)
    assert not none_departs(two, output_of(two))


def test_two_levels_that_go_with_the_way_of_the_speed_are_seen_by_the_gap_between_them(
    steady: Pairing,
) -> None:
    """A second level met one way only may be a wrong lag, and is looked at in full all the same."""
    rng = np.random.default_rng(9)
    speed = 3600.0 + 20.0 * np.sin(0.05 * steady.rows.time_s)
    volts = speed / 150.0 + rng.normal(0.0, 0.03, COUNT)
    slope = np.where(np.arange(COUNT) % 2 == 0, -400.0, 400.0)
    one = replace(steady, rows=replace(steady.rows, voltage_v=volts, speed_rpm=speed, slope_rpm_s=slope))
    assert none_departs(one, output_of(one))
    two = changed(one, slice(0, COUNT, 2), 0.95)
    assert not none_departs(two, output_of(two))


def test_a_row_without_speed_or_volts_is_none(steady: Pairing, output: RatedOutput) -> None:
    speed, volts = steady.rows.speed_rpm.copy(), steady.rows.voltage_v.copy()
    speed[1000:1010], volts[2000:2010], speed[3000] = np.nan, np.nan, 0.0
    mark = steady.mark.copy()
    mark[1000:1010], mark[2000:2010], mark[3000] = Mark.NO_SPEED, Mark.NO_VALUE, Mark.STOPPED
    rows = replace(steady.rows, speed_rpm=speed, voltage_v=volts)
    assert none_departs(replace(steady, rows=rows, mark=mark), output)


def test_dropouts_are_looked_at_in_full(steady: Pairing, output: RatedOutput) -> None:
    mark = steady.mark.copy()
    mark[777] = Mark.DROPOUT
    assert not none_departs(replace(steady, mark=mark), output)


def test_few_rows_near_rated_speed_are_looked_at_in_full(steady: Pairing, output: RatedOutput) -> None:
    speed = steady.rows.speed_rpm - 1500.0
    speed[::500] += 1500.0
    away = replace(steady, rows=replace(steady.rows, speed_rpm=speed))
    assert not none_departs(away, output)


def test_a_run_that_is_not_very_long_is_looked_at_in_full(steady: Pairing, output: RatedOutput) -> None:
    rows = steady.rows
    short = PairedRows(
        rows.time_s[:LONG],
        rows.voltage_v[:LONG],
        rows.speed_rpm[:LONG],
        rows.slope_rpm_s[:LONG],
        rows.bridged[:LONG],
    )
    assert not none_departs(replace(steady, rows=short, mark=steady.mark[:LONG]), output)
