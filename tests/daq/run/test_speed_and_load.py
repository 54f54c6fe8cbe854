"""Whole analyses: holds far off, a tach that multiplies, and what else may hold the volts down."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.model.quantity import Quantity
from daq.run.analysis import analyse
from tests.daq.run.builders import K, beside, engine, held, run, times, turned, with_value
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]


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
