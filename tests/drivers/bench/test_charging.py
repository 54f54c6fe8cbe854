"""Bridge, regulator, battery and loads: by hand and by balance."""

from __future__ import annotations

import pytest

from drivers.bench.alternator import Winding
from drivers.bench.battery import Battery, rest_voltage_v
from drivers.bench.charging import ChargingSystem
from drivers.bench.loads import Loads
from drivers.bench.rectifier import Bridge, passed_share

WINDING = Winding(28.0 / 3600.0)


@pytest.fixture
def system() -> ChargingSystem:
    return ChargingSystem(WINDING, Bridge(), Battery(0.5), Loads())


def run(system: ChargingSystem, seconds: float, speed_rpm: float) -> None:
    for _ in range(round(seconds / 0.005)):
        system.step(0.005, speed_rpm)


# battery-trade table for a flooded 12 V battery at 80 °F
@pytest.mark.parametrize(
    ("state", "volts"), [(1.0, 12.65), (0.75, 12.45), (0.5, 12.24), (0.25, 12.06), (0.0, 11.89)]
)
def test_rest_voltage_against_the_trade_table(state: float, volts: float) -> None:
    assert rest_voltage_v(state) == pytest.approx(volts, abs=1e-9)


def test_rest_voltage_between_and_beyond_the_rows() -> None:
    assert rest_voltage_v(0.625) == pytest.approx((12.24 + 12.45) / 2)
    assert (rest_voltage_v(-0.2), rest_voltage_v(1.3)) == (11.89, 12.65)


def test_battery_counts_the_ampere_hours() -> None:
    battery = Battery(0.5, capacity_ah=18.0)
    for _ in range(3600):
        battery.step(1.0, -4.5)  # an hour
    assert battery.state_of_charge == pytest.approx(0.25, abs=1e-9)


def test_battery_volts_fall_by_resistance_times_current_at_once() -> None:
    battery = Battery(0.5, resistance_ohm=0.03)
    assert battery.terminal_v(0.0) - battery.terminal_v(-10.0) == pytest.approx(0.3, rel=1e-9)


@pytest.mark.parametrize(
    ("volts", "share"), [(12.0, 1.0), (14.2, 1.0), (14.4, 0.5), (14.6, 0.0), (16.0, 0.0)]
)
def test_regulator_lets_less_through_as_the_volts_rise(volts: float, share: float) -> None:
    assert passed_share(volts) == pytest.approx(share, abs=1e-9)


def test_currents_balance_and_the_battery_volts_follow(system: ChargingSystem) -> None:
    run(system, 2.0, 3600.0)
    assert system.battery_a == pytest.approx(system.rectified_a - system.load_a, rel=1e-12)
    assert system.battery_v == pytest.approx(system.battery.terminal_v(system.battery_a), rel=1e-12)
    assert system.load_a == pytest.approx(6.2 * system.battery_v / 12.8, rel=0.01)


def test_more_speed_gives_more_current_and_idle_gives_less_than_the_loads_draw(
    system: ChargingSystem,
) -> None:
    outputs_a = [system.full_output(speed_rpm, 12.5).mean_a for speed_rpm in (1200, 1800, 2400, 3000, 3600)]
    assert outputs_a == sorted(outputs_a)
    assert outputs_a[1] < 6.2 < outputs_a[3]
    assert 9.0 < outputs_a[-1] < 11.0  # a 10 A class machine


def test_reading_between_grid_points_is_close_to_working_it_out(system: ChargingSystem) -> None:
    between = system.full_output(2950.0, 12.75).mean_a
    exact = Bridge().output(WINDING, 2950.0, 12.75, system.battery.resistance_ohm).mean_a
    assert between == pytest.approx(exact, rel=0.01)


def test_unplugged_the_loads_drain_the_battery(system: ChargingSystem) -> None:
    system.connected = False
    run(system, 1.0, 3600.0)
    assert system.rectified_a == 0.0
    assert system.battery_a == pytest.approx(-system.load_a, rel=1e-12)


def test_a_full_battery_is_held_at_the_set_voltage_with_less_current() -> None:
    loads = Loads()
    loads.switch([])
    system = ChargingSystem(WINDING, Bridge(), Battery(0.99), loads)
    run(system, 120.0, 3600.0)
    assert 14.2 < system.battery_v < 14.6
    assert system.rectified_a < 0.5 * system.full_output(3600.0, system.battery.emf_v).mean_a


def test_ripple_is_the_battery_resistance_times_the_alternating_current(system: ChargingSystem) -> None:
    run(system, 1.0, 3600.0)
    full = system.full_output(3600.0, system.battery.emf_v - 0.03 * system.load_a)
    alternating_a = (full.rms_a**2 - full.mean_a**2) ** 0.5
    assert system.ripple_v == pytest.approx(0.03 * alternating_a, rel=0.01)


def test_unknown_loads_are_named() -> None:
    with pytest.raises(ValueError, match="no load 'heater'.*spray_pump"):
        Loads().switch(["heater"])
