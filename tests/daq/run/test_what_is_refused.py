"""Whole analyses of runs in which something contradicts itself, or can't be known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.runs import channel_of, machine_of, run_of

Floats = NDArray[np.float64]
K = 24.0 / 3600.0


def engine(t: Floats) -> Floats:
    """A speed that does not repeat itself."""
    return np.asarray(2800.0 + 600.0 * np.sin(t / 7.0) + 250.0 * np.sin(t / 2.3), dtype=np.float64)


def times(seconds: float, step_s: float, first_s: float = 1.0) -> Floats:
    return np.asarray(np.arange(first_s, seconds, step_s), dtype=np.float64)


def run(lag_s: float = 0.2, *, own_clocks: bool = False, minimum_v: float = 20.0) -> RunData:
    speed_t, at = times(90.0, 0.5), times(90.0, 0.4)
    noise = np.random.default_rng(1).normal(0.0, 0.01, len(at))
    volts = np.round(K * engine(at) + noise, 2)
    data = run_of(
        (at + lag_s, volts), (speed_t, np.round(engine(speed_t))), machine=machine_of(3600.0, minimum_v)
    )
    if not own_clocks:
        return data
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=True)


def with_value(data: RunData, channel: int, value: Floats) -> RunData:
    parts = list(data.channels)
    parts[channel] = replace(parts[channel], value=value)
    return replace(data, channels=tuple(parts))


def with_frequency(data: RunData, pole_pairs: int) -> RunData:
    t = times(90.0, 0.5)
    channel = channel_of(2, Quantity.FREQUENCY, t, np.round(pole_pairs * engine(t) / 60.0, 1))
    return replace(data, channels=(*data.channels, channel))


def test_a_tach_that_frequency_contradicts_decides_nothing() -> None:
    """Every mark counted twice: 24 V look like 12 V, and a good flywheel would come off."""
    data = run()
    assert data.machine is not None
    data = replace(data, machine=changed(data.machine, pole_pairs=6))
    sound = analyse(with_frequency(data, 6)).result
    assert (sound.verdict, sound.pole_pairs) == ("pass", 6)
    assert "Frequency and tach agree on the card's 6 pole pairs." in sound.reasons
    doubled = analyse(with_frequency(with_value(data, 1, 2.0 * data.channels[1].value), 6)).result
    assert doubled.verdict == "not_enough_data"
    assert doubled.rated_voltage_V is None
    assert "the tach reads 2.00 times the true speed" in doubled.reasons[0]


def test_without_the_machines_pole_pairs_they_are_stated_with_their_doubt() -> None:
    result = analyse(with_frequency(run(), 6)).result
    assert result.pole_pairs == 6
    assert any("make 6 pole pairs (6.0" in reason and "±" in reason for reason in result.reasons)


def test_a_frequency_that_fits_no_pole_pairs_decides_nothing() -> None:
    data = with_frequency(run(), 6)
    odd = with_value(data, 2, data.channels[2].value * 0.92)
    result = analyse(odd).result
    assert result.verdict == "not_enough_data"
    assert "no whole number of pole pairs" in result.reasons[0]


@pytest.mark.parametrize("lag_s", [0.2, 12.0, 20.0, 35.0])
def test_false_readings_are_found_whatever_the_clocks_say(lag_s: float) -> None:
    """The rules look at both streams, so the streams are brought together first."""
    data = run(lag_s, own_clocks=True)
    clean = analyse(data)
    assert clean.result.rows_rejected <= 2
    assert clean.result.reasons == [r for r in clean.result.reasons if "false" not in r and "follow" not in r]
    speed, volts = data.channels[1].value.copy(), data.channels[0].value.copy()
    rng = np.random.default_rng(3)
    doubled = 5 + 12 * np.arange(7) + rng.integers(0, 5, 7)
    jumped = 60 + 9 * np.arange(6)
    speed[doubled] *= 2.0
    volts[jumped] *= 1.5
    spoilt = analyse(with_value(with_value(data, 1, speed), 0, volts))
    assert spoilt.result.lag_s == pytest.approx(lag_s, abs=0.03)
    assert spoilt.result.rated_voltage_V == pytest.approx(24.0, abs=0.02)
    assert any(reason.startswith("7 tach readings were false") for reason in spoilt.result.reasons)
    assert (spoilt.rows.mark[jumped] == Mark.VOLTAGE_SPIKE).all()


def test_one_file_has_one_clock() -> None:
    """Two columns of one log: a shift of minutes is not even looked for, though the speed repeats itself."""
    t = times(90.0, 0.5)
    even = 2800.0 + 900.0 * np.sin(2.0 * np.pi * t / 30.0)
    speed = channel_of(1, Quantity.ROTATIONAL_SPEED, t, np.round(even))
    volts = channel_of(0, Quantity.AC_VOLTAGE, t, np.round(K * even, 2))
    one_log = RunData((volts, speed), machine_of(3600.0, 20.0), imported=True)
    result = analyse(one_log).result
    assert result.lag_s == pytest.approx(0.0, abs=0.05)
    assert result.verdict == "pass"
    apart = replace(one_log, channels=(volts, replace(speed, entry=changed(speed.entry, address="n.csv"))))
    told = analyse(apart).result
    assert told.lag_s is None
    assert "ambiguous" in " ".join(told.reasons)
    assert len(told.reasons[1].split("fit about as well")[0].split(",")) == len(
        set(told.reasons[1].split("fit about as well")[0].split(","))
    )


def test_a_clock_that_was_set_in_mid_run_is_told_and_decides_nothing() -> None:
    data = run(0.2, own_clocks=True)
    volts = data.channels[0]
    jumped = replace(volts, time_s=np.where(volts.time_s > 45.0, volts.time_s + 17.0, volts.time_s))
    result = analyse(replace(data, channels=(jumped, *data.channels[1:]))).result
    assert result.verdict == "not_enough_data"
    assert "The clock of one log jumps by 17.0 s at about 62 s" in result.reasons[0]
    steady_gap = (volts.time_s < 40.0) | (volts.time_s > 55.0)
    holed = replace(
        volts,
        time_s=volts.time_s[steady_gap],
        value=volts.value[steady_gap],
        quality=volts.quality[steady_gap],
    )
    assert analyse(replace(data, channels=(holed, *data.channels[1:]))).result.verdict == "pass"


def test_one_ramp_carries_what_an_unknown_lag_can_cost() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(40):
        rate, lag_s = rng.uniform(12.0, 40.0), rng.uniform(-0.6, 0.6)
        speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
        speed, volts = 1900.0 + rate * speed_t, K * (1900.0 + rate * at) + rng.normal(0.0, 0.01, len(at))
        data = run_of(
            (at + lag_s, np.round(volts, 2)), (speed_t, np.round(speed)), machine=machine_of(3600.0, 20.0)
        )
        result = analyse(data).result
        assert result.lag_s is None
        assert any("one sweep up and down" in reason for reason in result.reasons)
        assert result.rated_voltage_V is not None
        assert result.expanded_uncertainty_V is not None
        held += abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V
    assert held >= 38


def test_spikes_on_a_sweep_are_found() -> None:
    data = run()
    volts = data.channels[0].value.copy()
    rng = np.random.default_rng(7)
    places = 4 + 10 * np.arange(20)
    volts[places] *= rng.choice([0.65, 1.35], 20)
    spoilt = analyse(with_value(data, 0, volts))
    assert (spoilt.rows.mark[places] == Mark.VOLTAGE_SPIKE).all()
    assert spoilt.result.rows_rejected <= 22


def held(rpm: float, volts: float, *, minimum_v: float = 20.0, wander_rpm: float = 3.0) -> RunData:
    """One steady speed with its volts, both with their scatter."""
    rng = np.random.default_rng(11)
    speed_t, at = times(60.0, 0.5), times(60.0, 0.4)
    shown = np.round(volts + rng.normal(0.0, 0.01, len(at)), 2)
    speed = np.round(rpm + rng.normal(0.0, wander_rpm, len(speed_t)))
    return run_of((at, shown), (speed_t, speed), machine=machine_of(3600.0, minimum_v))


@pytest.mark.parametrize("offset_v", [-1.0, 1.0])
@pytest.mark.parametrize("rpm", [1500.0, 1800.0, 2500.0, 3000.0, 3200.0, 4200.0])
def test_a_hold_far_from_rated_speed_carries_an_offset_it_cannot_show(rpm: float, offset_v: float) -> None:
    truth_v = 24.0 + offset_v
    result = analyse(held(rpm, 24.0 * rpm / 3600.0 + offset_v)).result
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    assert abs(result.rated_voltage_V - truth_v) <= result.expanded_uncertainty_V
    assert any("of the line that this run can't show" in reason for reason in result.reasons)


def test_what_a_hold_cannot_show_grows_with_its_distance_and_is_nothing_near_rated_speed() -> None:
    widths = []
    for rpm in (3600.0, 3510.0, 3400.0, 3200.0, 2800.0, 2400.0, 1800.0):
        result = analyse(held(rpm, 24.0 * rpm / 3600.0)).result
        assert result.expanded_uncertainty_V is not None
        widths.append(result.expanded_uncertainty_V)
        near = any("can't show" in reason for reason in result.reasons)
        assert near is (rpm < 3500.0)
    assert widths == sorted(widths)
    assert widths[1] < widths[0] + 0.01


def test_a_sweep_that_ends_under_rated_speed_carries_a_bend_it_cannot_show() -> None:
    """Iron and the meter's band bend the line upwards of what was seen: 2 % under proportion at 3600 rpm."""
    t, at = times(90.0, 0.5), times(90.0, 0.4)

    def low(x: Floats) -> Floats:
        return np.asarray(2000.0 + 400.0 * np.sin(x / 5.0), dtype=np.float64)

    data = run_of((at, np.round(K * low(at), 2)), (t, np.round(low(t))), machine=machine_of(3600.0, 20.0))
    result = analyse(data).result
    assert result.expanded_uncertainty_V is not None
    assert result.expanded_uncertainty_V > 0.02 * 24.0
    assert any("a bend of the line that this run can't show" in reason for reason in result.reasons)


def turned(data: RunData, share: float, factor: float) -> RunData:
    """The tach reads a multiple for the last part of the run."""
    speed = data.channels[1].value.copy()
    speed[int((1.0 - share) * len(speed)) :] *= factor
    return with_value(data, 1, np.round(speed))


@pytest.mark.parametrize("factor", [2.0, 0.5, 3.0])
@pytest.mark.parametrize("share", [0.2, 0.45, 0.5, 0.55, 0.8])
@pytest.mark.parametrize("kind", ["sweep", "hold"])
def test_a_tach_that_multiplies_for_part_of_the_run_decides_nothing(
    kind: str, share: float, factor: float
) -> None:
    """The larger part may be the wrong one: 24 V would be stated as 12, or as 48 and pass."""
    data = run() if kind == "sweep" else held(3600.0, 24.0)
    result = analyse(turned(data, share, factor)).result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    words = {2.0: "twice", 0.5: "half of", 3.0: "three times"}
    other = {2.0: "half of", 0.5: "twice", 3.0: "a third of"}
    told = words[factor] if share < 0.5 else other[factor] if share > 0.5 else "what the volts say"
    assert told in result.reasons[0]
    assert "marks were" in result.reasons[0]
    assert "for part of the run" in result.reasons[0]
    least = min(share, 1.0 - share)
    assert int(result.reasons[0].split()[0]) == pytest.approx(least * len(data.channels[1].value), abs=4)
    assert result.rows_rejected >= 0.9 * least * result.rows
    assert not any("load" in reason or "AC volts" in reason for reason in result.reasons)


def test_a_few_multiples_are_kept_out_and_the_rest_stands() -> None:
    result = analyse(turned(run(), 0.08, 2.0)).result
    assert result.rated_voltage_V == pytest.approx(24.0, abs=0.02)
    assert result.rows_rejected >= 0.08 * result.rows


def test_a_speed_that_no_governed_engine_has_decides_nothing() -> None:
    result = analyse(held(7200.0, 24.0)).result
    assert result.verdict == "not_enough_data"
    assert "7200 rpm, 2.0 times the rated test speed" in result.reasons[0]
    assert analyse(held(3900.0, 26.0)).result.verdict == "pass"


def beside(data: RunData, quantity: Quantity, value: Floats | float, step_s: float = 0.5) -> RunData:
    """One more channel over the length of the run."""
    t = times(float(data.channels[0].time_s[-1]), step_s)
    column = np.broadcast_to(np.asarray(value, dtype=np.float64), t.shape).copy()
    return replace(data, channels=(*data.channels, channel_of(2, quantity, t, column)))


def test_volts_held_at_one_speed_are_told_to_look_like_a_weak_alternator() -> None:
    result = analyse(held(3600.0, 14.1)).result
    assert result.verdict == "fail"
    assert "a load or a regulator that holds the volts down looks the same" in result.reasons[1]
    assert "one sweep up and down" in result.reasons[1]
    weak_sweep = with_value(run(), 0, np.round(run().channels[0].value * 0.6, 2))
    for sound in (held(3600.0, 24.0), weak_sweep):
        assert not any("looks the same" in reason for reason in analyse(sound).result.reasons)


@pytest.mark.parametrize(
    ("battery_v", "verdict"), [(14.2, "not_enough_data"), (12.6, "fail"), (38.0, "fail")]
)
def test_battery_volts_tell_whether_the_regulator_is_connected(battery_v: float, verdict: str) -> None:
    result = analyse(beside(held(3600.0, 14.1), Quantity.DC_VOLTAGE, battery_v)).result
    assert result.verdict == verdict
    assert any("as when it is charged" in r for r in result.reasons) is (verdict == "not_enough_data")
    assert not any("looks the same" in reason for reason in result.reasons)
    # Volts that are there though something is connected are there all the more without.
    assert analyse(beside(held(3600.0, 24.0), Quantity.DC_VOLTAGE, battery_v)).result.verdict == "pass"


@pytest.mark.parametrize(
    ("amps", "verdict", "words"),
    [
        (4.2, "not_enough_data", "4.2 A flowed during the run, into the battery by its sign"),
        (-3.1, "pass", "The battery gave 3.1 A (amps into it read positive)"),
        (0.3, "pass", ""),
        (-0.3, "pass", ""),
    ],
)
def test_only_amps_into_the_battery_load_the_alternator(amps: float, verdict: str, words: str) -> None:
    for data in (run(), held(3600.0, 24.0)):
        result = analyse(beside(data, Quantity.DC_CURRENT, amps)).result
        assert result.verdict == verdict
        assert any(words in reason for reason in result.reasons)
        assert words or not any(" A " in reason for reason in result.reasons)


def test_amps_out_of_the_battery_that_grow_with_the_speed_are_charging_the_other_way_round() -> None:
    data = run()
    t = times(float(data.channels[0].time_s[-1]), 0.5)
    result = analyse(beside(data, Quantity.DC_CURRENT, -np.maximum(0.0, (engine(t) - 2000.0) / 200.0))).result
    assert result.verdict == "not_enough_data"
    assert "the ammeter is the other way round" in result.reasons[0]


def test_amps_for_a_quarter_of_the_run_are_a_load() -> None:
    data = run()
    t = times(float(data.channels[0].time_s[-1]), 0.5)
    result = analyse(beside(data, Quantity.DC_CURRENT, np.where(t > 65.0, 5.0, 0.0))).result
    assert result.verdict == "not_enough_data"
    assert "5.0 A flowed" in result.reasons[0]


def test_a_tach_that_shows_the_direction_with_a_sign() -> None:
    data = run()
    backwards = analyse(with_value(data, 1, -data.channels[1].value)).result
    assert backwards.rated_voltage_V == analyse(data).result.rated_voltage_V
    assert backwards.verdict == "pass"


@pytest.mark.parametrize(
    ("factor", "words"), [(-1.0, "AC volts have no sign"), (1000.0, "beyond any hand meter")]
)
def test_volts_that_can_be_no_ac_volts_decide_nothing(factor: float, words: str) -> None:
    data = run()
    result = analyse(with_value(data, 0, factor * data.channels[0].value)).result
    assert result.verdict == "not_enough_data"
    assert words in result.reasons[0]


@pytest.mark.parametrize("apart_s", [-5000.0, 0.2, 400.0, 5000.0])
def test_logs_are_brought_together_however_far_their_clocks_are_apart(apart_s: float) -> None:
    data = run(own_clocks=True)
    volts = replace(data.channels[0], time_s=data.channels[0].time_s + apart_s)
    result = analyse(replace(data, channels=(volts, data.channels[1]))).result
    assert result.verdict == "pass"
    assert result.lag_s == pytest.approx(apart_s + 0.2, abs=0.02)


@pytest.mark.parametrize("held_v", [14.2, 18.0, 20.5])
def test_volts_that_a_regulator_holds_are_not_judged(held_v: float) -> None:
    """In proportion up to there: a plain share of the output would still look like a weak alternator."""
    data = run(minimum_v=22.0)
    volts = data.channels[0].value
    result = analyse(
        with_value(data, 0, np.minimum(volts, held_v + 0.01 * np.sin(np.arange(len(volts)))))
    ).result
    assert result.verdict == "not_enough_data"
    assert any(
        f"stay at about {held_v:.1f} V" in reason or "do not follow" in reason for reason in result.reasons
    )


def test_a_run_without_a_common_moment_does_not_speak_of_the_lag() -> None:
    data = run()
    late = replace(data.channels[1], time_s=data.channels[1].time_s + 500.0)
    result = analyse(replace(data, channels=(data.channels[0], late))).result
    assert result.reasons[0].startswith("Only 0 rows count")
    assert not any("moved too little" in reason for reason in result.reasons)


@pytest.mark.parametrize("factor", [2.0, 0.5])
@pytest.mark.parametrize("share", [0.3, 0.5, 0.6])
def test_logs_with_a_tach_that_multiplies_for_part_of_the_run_decide_nothing(
    share: float, factor: float
) -> None:
    """A shift that lays the volts beside one part alone would state 24 V, or 12, as it happens."""
    t, at = times(90.0, 0.5), times(90.0, 0.4)

    def hunting(x: Floats) -> Floats:
        return np.asarray(3600.0 + 12.0 * np.sin(x / 3.0), dtype=np.float64)

    data = run_of(
        (at + 0.2, np.round(K * hunting(at), 2)), (t, np.round(hunting(t))), machine=machine_of(3600.0, 20.0)
    )
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    result = analyse(turned(replace(data, channels=tuple(parts), imported=True), share, factor)).result
    assert result.verdict == "not_enough_data"
    assert "for part of the run" in result.reasons[0]
    assert analyse(replace(data, imported=True)).result.verdict == "pass"
