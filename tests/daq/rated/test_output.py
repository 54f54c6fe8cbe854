"""The rated output: which rows it rests on, and what goes into its budget."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate
from daq.rated.budget import Contribution
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, RatedOutput, rated_output, row_uncertainty

Floats = NDArray[np.float64]

METER = InstrumentLimits(known=True, share=0.008, counts=3.0, digit=0.01)
TACH = InstrumentLimits(known=True, share=0.0005, counts=1.0, digit=1.0)
UNKNOWN_METER = InstrumentLimits(known=False, share=0.0, counts=0.0, digit=0.01)
UNKNOWN_TACH = InstrumentLimits(known=False, share=0.0, counts=0.0, digit=1.0)
LAG = LagEstimate(0.1, 0.01, determined=True)
K = 24.0 / 3600.0


def rows_at(speed: Floats, noise_v: float = 0.01, slope: float = 0.0, seed: int = 1) -> CountedRows:
    rng = np.random.default_rng(seed)
    n = len(speed)
    volts = K * speed + rng.normal(0.0, noise_v, n)
    return CountedRows(np.asarray(0.4 * np.arange(n), dtype=np.float64), volts, speed, np.full(n, slope))


def output_of(
    rows: CountedRows,
    meter: InstrumentLimits = METER,
    tach: InstrumentLimits = TACH,
    lag: LagEstimate = LAG,
) -> RatedOutput:
    output = rated_output(rows, 3600.0, lag, meter, tach)
    assert output is not None
    return output


def line(output: RatedOutput, name: str) -> Contribution:
    return next(c for c in output.budget.contributions if c.name.startswith(name))


def names(output: RatedOutput) -> list[str]:
    return [c.name for c in output.budget.contributions]


@pytest.mark.parametrize("count", [0, 1, 7])
def test_fewer_than_eight_rows_state_nothing(count: int) -> None:
    assert rated_output(rows_at(np.full(count, 3600.0)), 3600.0, LAG, METER, TACH) is None


def test_eight_rows_are_enough() -> None:
    assert output_of(rows_at(np.full(8, 3600.0))).rated_voltage_v == pytest.approx(24.0, abs=0.02)


def test_only_rows_near_rated_speed_are_used_where_there_are_enough() -> None:
    speed = np.concatenate((np.full(50, 1800.0), np.full(20, 3500.0)))
    rows = rows_at(speed)
    rows.voltage_v[:50] *= 0.9  # far away the output departs: it must not count
    output = output_of(rows)
    assert output.rows_used == 20
    assert output.near
    assert output.rated_voltage_v == pytest.approx(24.0, abs=0.01)
    assert output.nearest_share == pytest.approx(100.0 / 3600.0)
    assert output.span_s == pytest.approx(0.4 * 19)


def test_far_rows_are_scaled_and_told_to_be_far() -> None:
    output = output_of(rows_at(np.linspace(1700.0, 2600.0, 60)))
    assert not output.near
    assert output.rows_used == 20
    assert output.nearest_share == pytest.approx(1000.0 / 3600.0)
    assert output.rated_voltage_v == pytest.approx(24.0, abs=0.05)


def test_scaling_from_far_away_costs_uncertainty() -> None:
    near = output_of(rows_at(np.full(60, 3600.0)))
    far = output_of(rows_at(np.full(60, 1800.0)))
    assert line(near, "departure").output_uncertainty < 1e-9
    # 0.5 % of the output can't be excluded, times a stretch of one.
    assert line(far, "departure").output_uncertainty == pytest.approx(0.005 * 24.0, rel=0.01)


def test_volts_that_do_not_follow_the_speed_are_not_scaled() -> None:
    speed = np.linspace(1800.0, 3600.0, 80)
    held = CountedRows(np.arange(80.0), np.full(80, 14.2), speed, np.full(80, 22.0))
    assert not output_of(held).scaled
    assert output_of(rows_at(speed)).scaled


def test_dead_volts_do_not_count_as_a_load() -> None:
    """Nothing comes out: that is an output of nothing, not a load."""
    rows = CountedRows(np.arange(80.0), np.full(80, 0.02), np.linspace(1800.0, 3600.0, 80), np.full(80, 22.0))
    output = output_of(rows)
    assert output.scaled
    assert abs(output.rated_voltage_v) < 0.05


def test_meter_line_is_the_cards_limit_as_a_rectangle() -> None:
    output = output_of(rows_at(np.full(40, 3600.0), noise_v=0.02))
    accuracy = line(output, "accuracy of the meter")
    assert accuracy.distribution == "rectangular"
    assert accuracy.standard_uncertainty == pytest.approx((0.008 * 24.0 + 0.03) / 3.0**0.5, rel=1e-3)
    assert accuracy.sensitivity == pytest.approx(1.0)


def test_tach_line_has_the_sensitivity_of_a_quotient() -> None:
    output = output_of(rows_at(np.full(40, 3500.0)))
    tach = line(output, "accuracy of the tach")
    assert tach.unit == "rpm"
    assert tach.standard_uncertainty == pytest.approx((0.0005 * 3500.0 + 1.0) / 3.0**0.5)
    assert tach.sensitivity == pytest.approx(-24.0 / 3500.0, rel=1e-3)


def test_a_meter_without_a_card_gives_its_last_digit_alone() -> None:
    quiet = output_of(rows_at(np.full(40, 3600.0), noise_v=0.0), UNKNOWN_METER, UNKNOWN_TACH)
    assert "accuracy of the meter" not in names(quiet)
    assert "accuracy of the tach" not in names(quiet)
    digit = line(quiet, "last digit of the meter")
    assert digit.standard_uncertainty == pytest.approx(0.01 / 12.0**0.5)
    # The reason says that it is in the uncertainty, so it is, in noise too.
    noisy = output_of(rows_at(np.full(40, 3600.0), noise_v=0.03), UNKNOWN_METER, UNKNOWN_TACH)
    assert "last digit of the meter" in names(noisy)


def test_digits_that_hide_in_the_scatter_do_not_count_twice_where_the_accuracy_is_known() -> None:
    limits = InstrumentLimits(known=True, share=0.005, counts=2.0, digit=0.01)
    noisy = output_of(rows_at(np.full(40, 3600.0), noise_v=0.03), limits, UNKNOWN_TACH)
    assert "last digit of the meter" not in names(noisy)
    nearly = output_of(rows_at(np.full(40, 3600.0), noise_v=0.006), limits, UNKNOWN_TACH)
    assert "last digit of the meter" in names(nearly)


def test_rounding_of_a_speed_that_moves_is_in_the_scatter() -> None:
    """Rounded to 1 rpm, a speed over 60 rpm is as often too high as too low: its mean is known far better."""
    rng = np.random.default_rng(6)
    errors = []
    for _ in range(200):
        true = 3600.0 + rng.uniform(-1.0, 1.0) + 30.0 * np.sin(rng.uniform(0.0, 6.28) + 0.3 * np.arange(60))
        rows = CountedRows(np.arange(60.0), K * true, np.round(true), np.zeros(60))
        output = output_of(rows)
        assert "last digit of the tach" not in names(output)
        spread = line(output, "scatter").output_uncertainty
        errors.append((output.rated_voltage_v - 24.0) / spread)
    assert 0.7 < float(np.std(errors)) < 1.4
    still = output_of(rows_at(np.full(60, 3600.0)))
    assert line(still, "last digit of the tach").standard_uncertainty == pytest.approx(1.0 / 12.0**0.5)
    unknown = output_of(rows_at(np.linspace(3570.0, 3630.0, 60)), METER, UNKNOWN_TACH)
    assert "last digit of the tach" in names(unknown)


def test_a_shift_that_may_be_another_widens_the_result() -> None:
    rows = rows_at(np.full(40, 3600.0))
    sure = rated_output(rows, 3600.0, LAG, UNKNOWN_METER, UNKNOWN_TACH)
    unsure = rated_output(rows, 3600.0, LAG, UNKNOWN_METER, UNKNOWN_TACH, shift_limit_v=0.6)
    assert sure is not None
    assert unsure is not None
    assert unsure.rated_voltage_v == sure.rated_voltage_v
    assert line(unsure, "which shift is right").output_uncertainty == pytest.approx(0.6 / 3.0**0.5)


def test_lag_counts_with_the_slope_of_the_speed() -> None:
    up = output_of(rows_at(np.linspace(3400.0, 3700.0, 40), slope=30.0))
    assert line(up, "lag").output_uncertainty == pytest.approx(0.01 * 24.0 * 30.0 / 3550.0, rel=0.02)
    both = rows_at(np.linspace(3400.0, 3700.0, 40), slope=30.0)
    both.slope_rpm_s[::2] *= -1.0
    assert line(output_of(both), "lag").output_uncertainty < 0.05 * line(up, "lag").output_uncertainty


def test_no_lag_costs_more_than_the_speeds_own_swing() -> None:
    """A shift that may be anything pairs volts with any speed of the run, and with no other."""
    speed = np.random.default_rng(3).uniform(3500.0, 3700.0, 200)
    output = output_of(rows_at(speed, slope=40.0), lag=LagEstimate(0.0, 32.0, determined=False))
    swing_v = output.rated_voltage_v * float(np.std(speed)) / float(np.mean(speed))
    assert line(output, "lag").output_uncertainty == pytest.approx(swing_v)


@pytest.mark.parametrize(("slope_rpm_s", "told"), [(100.0, True), (5.0, False)])
def test_a_line_that_misses_zero_counts_on_rows_that_moved(slope_rpm_s: float, told: bool) -> None:
    speed = np.random.default_rng(3).uniform(2400.0, 3900.0, 300)
    rows = rows_at(speed, slope=slope_rpm_s)
    lifted = CountedRows(rows.time_s, rows.voltage_v - 2.0, rows.speed_rpm, rows.slope_rpm_s)
    assert "line that misses zero" not in names(output_of(rows))
    output = output_of(lifted)
    assert ("line that misses zero" in names(output)) is told
    if told:
        found = output.proportion.line
        assert found is not None
        beyond = abs(found.offset) - 3.0 * found.u_offset - 0.02 * output.rated_voltage_v
        part = line(output, "line that misses zero").output_uncertainty
        assert part == pytest.approx(0.45 * beyond / 3.0**0.5)


def test_scatter_shrinks_with_the_rows_and_widens_with_their_likeness() -> None:
    rng = np.random.default_rng(2)
    speed = np.full(400, 3600.0)
    white = rng.normal(0.0, 0.05, 400)
    slow = np.convolve(rng.normal(0.0, 0.05, 419), np.full(20, 20.0**-0.5), "valid")
    lines = []
    for noise in (white[:100], white, slow):
        rows = CountedRows(
            np.arange(float(len(noise))), 24.0 + noise, speed[: len(noise)], np.zeros(len(noise))
        )
        lines.append(line(output_of(rows), "scatter"))
    few, many, alike = lines
    assert many.standard_uncertainty == pytest.approx(0.05 / 20.0, rel=0.15)
    assert few.standard_uncertainty == pytest.approx(2.0 * many.standard_uncertainty, rel=0.25)
    # Twenty in a row say what one says: about the root of twenty wider, and few degrees of freedom.
    assert 3.0 < alike.standard_uncertainty / many.standard_uncertainty < 6.5
    assert alike.degrees_of_freedom < 40.0 < many.degrees_of_freedom


def test_a_few_outliers_do_not_move_the_value() -> None:
    rows = rows_at(np.full(100, 3600.0))
    rows.voltage_v[::17] *= 1.4
    assert output_of(rows).rated_voltage_v == pytest.approx(24.0, abs=0.005)


def test_uncertainty_of_single_rows() -> None:
    rows = rows_at(np.array([3600.0, 1800.0, 3600.0]), slope=0.0)
    rows.slope_rpm_s[2] = 300.0
    u = row_uncertainty(rows, 3600.0, LAG, METER, TACH, scatter_v=0.02)
    limit = (0.008 * rows.voltage_v[0] + 0.03) / 3.0**0.5
    tach = ((0.0005 * 3600.0 + 1.0) / 3.0**0.5 + 1.0 / 12.0**0.5) * 24.0 / 3600.0
    assert u[0] == pytest.approx(np.sqrt(limit**2 + 0.01**2 / 12.0 + tach**2 + 0.02**2), rel=2e-3)
    # Scaled twofold, the counts weigh twice; a moving speed adds the lag.
    assert u[1] > u[0]
    assert u[2] == pytest.approx(np.hypot(u[0], 0.01 * 24.0 * 300.0 / 3600.0), rel=2e-3)


def test_the_value_does_not_depend_on_the_order_of_its_inputs() -> None:
    rows = rows_at(np.full(30, 3600.0))
    scaled = CountedRows(rows.time_s, 2.0 * rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    assert output_of(scaled).rated_voltage_v == pytest.approx(
        2.0 * output_of(rows).rated_voltage_v, rel=1e-12
    )


@pytest.mark.parametrize(
    ("elasticity", "scaled"), [(0.55, False), (0.65, True), (1.0, True), (1.5, True), (1.7, False)]
)
def test_volts_that_follow_the_speed_too_little_or_too_much_are_not_scaled(
    elasticity: float, scaled: bool
) -> None:
    speed = np.asarray(np.tile(np.linspace(3000.0, 3900.0, 40), 2), dtype=np.float64)
    volts = 24.0 * (1.0 + elasticity * (speed / 3450.0 - 1.0))
    rows = CountedRows(np.asarray(0.4 * np.arange(80), dtype=np.float64), volts, speed, np.zeros(80))
    assert output_of(rows).scaled is scaled


@pytest.mark.parametrize(
    ("away_sd", "weighs"), [(3.0, True), (4.5, True), (5.5, True), (6.5, False), (20.0, False)]
)
def test_rows_beyond_six_robust_deviations_weigh_nothing_and_are_named(away_sd: float, weighs: bool) -> None:
    """The bound lies at six: at 3.5 good rows would go, at 60 spikes would stay."""
    rows = rows_at(np.full(201, 3600.0))
    sd = 1.4826 * float(np.median(np.abs(rows.voltage_v - np.median(rows.voltage_v))))
    rows.voltage_v[50] = np.median(rows.voltage_v) + away_sd * sd
    weightless = output_of(rows).weightless
    assert bool(weightless[50]) is not weighs
    assert int(weightless.sum()) == int(not weighs)
