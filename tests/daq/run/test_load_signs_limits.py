"""What DC readings say where they are few, or the battery is another than the usual one."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np
import pytest
from msgspec.structs import replace as changed

from daq.align.ranges import range_between
from daq.cards.machine_parts import BatteryCard
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from daq.run.load_signs import LoadSigns, load_signs
from tests.daq.run.builders import beside, run
from tests.runs import channel_of


def _signs(data: RunData) -> LoadSigns:
    pairing = analyse(data).pairing
    assert pairing is not None
    return load_signs(data, pairing)


@pytest.mark.parametrize(
    ("nominal_v", "shown_v", "charging"),
    [(12, 14.2, True), (12, 12.6, False), (24, 14.2, False), (24, 28.2, True)],
)
def test_charging_height_is_that_of_the_machines_battery(
    nominal_v: Literal[12, 24], shown_v: float, charging: bool
) -> None:
    data = beside(run(), Quantity.DC_VOLTAGE, shown_v)
    assert data.machine is not None
    machine = changed(data.machine, battery=BatteryCard(nominal_voltage_v=nominal_v))
    found = _signs(replace(data, machine=machine))
    assert found.battery_v == pytest.approx(shown_v)
    assert found.charging is charging


def test_a_card_with_lower_charging_volts_lowers_the_height() -> None:
    data = beside(run(), Quantity.DC_VOLTAGE, 13.1)
    assert data.machine is not None
    assert not _signs(data).charging
    assert _signs(replace(data, machine=changed(data.machine, charging_voltage_v=(13.0, 14.0)))).charging


def test_a_few_amps_out_of_the_battery_are_its_own_loads() -> None:
    t = np.arange(10.0, 70.0, 12.0)
    amps = channel_of(2, Quantity.DC_CURRENT, t, np.linspace(-1.0, -8.0, len(t)))
    data = run()
    found = _signs(replace(data, channels=(*data.channels, amps)))
    assert found.load_current_a is None
    assert found.discharge_a == pytest.approx(4.5)


def test_between_moments_of_nothing_lies_no_range() -> None:
    nothing, ends = np.empty(0), np.array([1.0, 2.0])
    for bound in range_between(nothing, nothing, ends, ends + 1.0):
        np.testing.assert_array_equal(bound, [np.nan, np.nan])
