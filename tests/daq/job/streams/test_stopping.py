"""An engine stop is seen in both streams; one stream alone is something else."""

from __future__ import annotations

import numpy as np
import pytest

from daq.job.streams.stopping import STOP_CAUSES, EngineStop, find_stop

SPEED_S = np.arange(0.0, 30.0, 0.5)
VOLTS_S = np.arange(0.0, 30.0, 0.3)


def stop(
    speed_from_s: float | None = None, volts_from_s: float | None = None, *, silent: bool = False
) -> EngineStop | None:
    """A run of 30 s at 3600 rpm and 28 V, of which either stream may end."""
    speed = np.full(len(SPEED_S), 3600.0)
    volts = np.full(len(VOLTS_S), 28.0)
    keep = np.ones(len(SPEED_S), dtype=bool)
    if speed_from_s is not None:
        speed[SPEED_S >= speed_from_s] = 0.0
        keep = (SPEED_S < speed_from_s) | (not silent)
    if volts_from_s is not None:
        volts[VOLTS_S >= volts_from_s] = 0.003
    return find_stop(SPEED_S[keep], speed[keep], VOLTS_S, volts, signal_end_s=29.9)


def test_both_gone_is_a_stop() -> None:
    found = stop(20.0, 20.6)
    assert found is not None
    assert found.at_s == pytest.approx(20.0, abs=0.5)
    assert found.speed_before_rpm == pytest.approx(3600.0)


def test_the_speed_before_is_not_that_of_the_run_down() -> None:
    """An engine that coasts for some seconds: the speed that is told is the one it ran at."""
    speed = np.where(SPEED_S < 15.0, 3590.0, 3590.0 * np.exp(-(SPEED_S - 15.0) / 0.8))
    volts = 28.0 * np.where(VOLTS_S < 15.0, 1.0, np.exp(-(VOLTS_S - 15.0) / 0.8))
    found = find_stop(SPEED_S, speed, VOLTS_S, volts, signal_end_s=29.9)
    assert found is not None
    assert found.speed_before_rpm == pytest.approx(3590.0)


def test_a_tach_that_falls_silent_at_standstill_counts_too() -> None:
    found = stop(20.0, 20.6, silent=True)
    assert found is not None
    assert found.at_s == pytest.approx(20.0, abs=1.0)


def test_speed_alone_is_a_lost_mark_and_volts_alone_a_loose_lead() -> None:
    assert stop(20.0, None) is None
    assert stop(None, 20.0) is None
    assert stop(10.0, 20.0) is None


def test_a_run_that_ends_running_did_not_stop() -> None:
    assert stop() is None
    assert stop(29.5, 29.6) is None


def test_a_stop_that_ends_again_is_no_end_of_the_test() -> None:
    speed = np.where((SPEED_S > 10) & (SPEED_S < 14), 0.0, 3600.0)
    volts = np.where((VOLTS_S > 10) & (VOLTS_S < 14), 0.0, 28.0)
    assert find_stop(SPEED_S, speed, VOLTS_S, volts, signal_end_s=29.9) is None


def test_an_engine_that_never_ran_did_not_stop() -> None:
    zero = np.zeros(len(SPEED_S))
    assert find_stop(SPEED_S, zero, VOLTS_S, np.zeros(len(VOLTS_S)), signal_end_s=29.9) is None
    assert find_stop(SPEED_S[:2], zero[:2], VOLTS_S, np.ones(len(VOLTS_S)), signal_end_s=29.9) is None


def test_each_usual_cause_has_its_caution() -> None:
    said = " ".join(each.cause for each in STOP_CAUSES).lower()
    for cause in ("fuel", "low-oil cut-out", "stop lead touching ground", "governor"):
        assert cause in said
    assert all(len(each.caution) > 30 for each in STOP_CAUSES)
