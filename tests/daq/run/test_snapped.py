"""A throttle that is snapped is no tach that counts wrongly: both streams decide, live and in logs of two clocks."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from daq.align.marks import Mark
from daq.run.analysis import analyse
from daq.verdict.result import Result
from tests.daq.run.snapped import Snap

FACTORS = (2.0, 0.5, 3.0, 1.0 / 3.0)
RATES = tuple(itertools.product((1.0, 2.0, 10.0), (1.0, 2.5, 10.0)))
BLAME = (
    "counted twice",
    "missed",
    "false",
    "fell away",
    "jumped alone",
    "what the volts say",
    "do not follow",
    "jump away",
    "two levels",
    "holds them",
    "comes loose",
)


def rates(at_s: float, factor: float) -> list[tuple[int, tuple[float, float]]]:
    """A third of them, another for each case."""
    return list(enumerate(RATES))[(int(at_s) + FACTORS.index(factor)) % 3 :: 3]


def blamed(result: Result) -> list[str]:
    return [words for words in BLAME if any(words in reason for reason in result.reasons)]


def assert_right(result: Result) -> None:
    assert blamed(result) == []
    # Where all good readings lie far from rated speed, not enough data, or so wide that it is too close.
    assert result.verdict in ("pass", "too_close", "not_enough_data")
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    assert abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V


@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize("at_s", [2.5, 20.0, 42.0])
def test_a_snap_that_the_volts_follow_is_the_engines(at_s: float, factor: float) -> None:
    """At three of the rates, lags and ways of averaging; over all cases each rate comes four times."""
    lags = itertools.cycle((-0.6, 1.2, -0.2, 0.6, 0.0))
    for number, (tach_hz, meter_hz) in rates(at_s, factor):
        snap = Snap(factor, at_s, None, tach_hz, meter_hz, next(lags), one_turn=number % 2 == 0)
        assert_right(analyse(snap.run()).result)


@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize("at_s", [2.5, 20.0, 42.0])
def test_a_snap_is_the_engines_in_logs_whose_clocks_are_apart(at_s: float, factor: float) -> None:
    shifts = itertools.cycle((12.3, -35.0, 400.0, 0.0))
    for number, (tach_hz, meter_hz) in rates(at_s, factor):
        snap = Snap(
            factor, at_s, None, tach_hz, meter_hz, next(shifts), one_turn=number % 2 == 1, own_clocks=True
        )
        assert_right(analyse(snap.run()).result)


@pytest.mark.parametrize("own_clocks", [False, True])
@pytest.mark.parametrize("held_s", [1.5, 5.0, 20.0])
@pytest.mark.parametrize("factor", FACTORS)
def test_snapped_and_snapped_back(factor: float, held_s: float, own_clocks: bool) -> None:
    for tach_hz, meter_hz, lag_s in ((2.0, 2.5, -0.4), (10.0, 2.5, 1.2)):
        lag_s += 30.0 * own_clocks
        snap = Snap(factor, 20.0, held_s, tach_hz, meter_hz, lag_s, one_turn=True, own_clocks=own_clocks)
        assert_right(analyse(snap.run()).result)


@pytest.mark.parametrize("own_clocks", [False, True])
@pytest.mark.parametrize("factor", FACTORS)
@pytest.mark.parametrize(("tach_hz", "meter_hz"), [(1.0, 2.5), (2.0, 2.5), (10.0, 1.0)])
def test_the_same_that_the_volts_do_not_follow_is_the_tachs(
    tach_hz: float, meter_hz: float, factor: float, own_clocks: bool
) -> None:
    snap = Snap(
        factor, 20.0, None, tach_hz, meter_hz, 0.3, one_turn=True, own_clocks=own_clocks, followed=False
    )
    result = analyse(snap.run()).result
    assert result.verdict == "not_enough_data"
    assert "for part of the run" in result.reasons[0]


def test_a_change_of_the_tach_alone_that_no_shift_explains_decides_nothing() -> None:
    """It read half from the start until just before the end; a reading in between hides that it was at once."""
    snap = Snap(2.0, 42.0, None, 2.0, 1.0, 12.0, own_clocks=True, followed=False)
    result = analyse(snap.run()).result
    assert result.verdict == "not_enough_data"
    assert "At about 42 s the speed is 2.0 times what it was, at once" in result.reasons[0]
    assert "the volts of the other log make no such change" in result.reasons[0]


def test_the_shift_of_two_logs_is_taken_from_their_snaps_where_nothing_else_shows_it() -> None:
    """One snap between steady speeds: at any other shift 24 V would be stated as 12."""
    snap = Snap(0.5, 20.0, None, 10.0, 10.0, -35.0, own_clocks=True)
    analysis = analyse(snap.run())
    assert analysis.pairing is not None
    assert analysis.pairing.lag.lag_s == pytest.approx(-35.0, abs=0.3)
    assert analysis.result.rated_voltage_V == pytest.approx(24.0, abs=0.05)


def test_rows_beside_a_snap_are_kept_out_and_told() -> None:
    analysis = analyse(Snap(2.0, 20.0, None, 1.0, 10.0, 0.3).run())
    quick = analysis.rows.time_s[analysis.rows.mark == Mark.TOO_QUICK]
    assert 15.0 < quick[0] < 20.3 < quick[-1] < 26.0
    count = len(quick)
    assert f"{count} rows were kept out: while the speed changed too fast for the tach to show it." in (
        analysis.result.reasons
    )
    assert not np.any(analysis.rows.mark == Mark.FALSE_SPEED)
