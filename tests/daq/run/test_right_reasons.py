"""What is false or stands is told by its right reason, and advice does not lead astray."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from msgspec.structs import replace as changed
from numpy.typing import NDArray

from daq.run.analysis import analyse
from daq.run.channels import RunData
from tests.daq.run.builders import K, times
from tests.daq.run.test_unfollowed import SPEED_T, VOLTS_T, hunting
from tests.runs import machine_of, run_of

Floats = NDArray[np.float64]


def run_with(speed: Floats, volts: Floats, *, own_clocks: bool = False) -> RunData:
    noise = np.random.default_rng(3).normal(0.0, 0.01, len(volts))
    shown = np.asarray(np.round(np.abs(volts + noise), 2), dtype=np.float64)
    data = run_of(
        (VOLTS_T, shown),
        (SPEED_T, np.round(speed)),
        machine=machine_of(3600.0, 20.0),
    )
    if not own_clocks:
        return data
    parts = (replace(c, entry=changed(c.entry, address=f"{c.entry.channel}.csv")) for c in data.channels)
    return replace(data, channels=tuple(parts), imported=True)


def doubled_for_ten_seconds(share: float) -> Floats:
    return np.asarray(np.where((SPEED_T > 30.0) & (SPEED_T < 40.0), 2.0, 1.0) * hunting(SPEED_T, share))


def test_ten_seconds_at_twice_the_speed_are_false_in_a_log_with_a_clock_of_its_own() -> None:
    for share in (0.0005, 0.05):
        result = analyse(
            run_with(doubled_for_ten_seconds(share), K * hunting(VOLTS_T, share), own_clocks=True)
        ).result
        assert result.verdict == "pass"
        said = " ".join(result.reasons)
        assert "tach readings were false" in said
        assert "still connected" not in said
        assert "do not follow" not in said


def test_false_readings_are_no_movement_that_the_volts_would_have_to_follow() -> None:
    for share in (0.0005, 0.05):
        result = analyse(run_with(doubled_for_ten_seconds(share), K * hunting(VOLTS_T, share))).result
        said = " ".join(result.reasons)
        assert result.verdict == "pass"
        assert "19 tach readings were false" in said
        assert "do not follow" not in said


def test_an_engine_that_stalls_is_no_loose_lead() -> None:
    def speed(t: Floats) -> Floats:
        return np.asarray(np.where((t > 30.0) & (t < 32.5), 0.0, hunting(t, 0.05)))

    stalled = analyse(run_with(speed(SPEED_T), K * speed(VOLTS_T))).result
    assert not any("fell away" in reason for reason in stalled.reasons)
    loose = analyse(run_with(hunting(SPEED_T, 0.05), K * speed(VOLTS_T))).result
    assert any("The volts fell away once" in reason for reason in loose.reasons)


def test_a_display_held_for_part_of_the_run_is_left_out_though_the_speed_moves_little() -> None:
    volts = K * hunting(VOLTS_T, 0.015)
    part = (VOLTS_T > 20.0) & (VOLTS_T < 40.0)
    free = volts + np.random.default_rng(3).normal(0.0, 0.01, len(volts))
    shown = np.asarray(np.round(np.where(part, 24.3, free), 2), dtype=np.float64)
    data = run_of(
        (VOLTS_T, shown), (SPEED_T, np.round(hunting(SPEED_T, 0.015))), machine=machine_of(3600.0, 20.0)
    )
    result = analyse(data).result
    assert any("standing still to the digit" in reason for reason in result.reasons)
    assert times(20.0, 0.4, 0.0).size - 2 <= result.rows_rejected <= times(20.0, 0.4, 0.0).size + 3


def test_the_edge_of_the_search_is_no_shift_that_fits_as_well() -> None:
    """A governor's small hunting of 3.3 s, beside a search up to 3.0 s."""
    for seed in range(4):
        rng = np.random.default_rng(seed)
        speed = 3600.0 + 3.0 * np.sin(1.9 * SPEED_T) + rng.normal(0.0, 1.0, len(SPEED_T))
        result = analyse(run_with(speed, 24.0 + 0.02 * np.sin(1.9 * VOLTS_T))).result
        assert result.verdict == "pass"
        assert not any("ambiguous" in reason for reason in result.reasons)
