"""The charge balance of series made by hand: what was put in comes out."""

from __future__ import annotations

import numpy as np
import pytest

from daq.job.charge.series_balance import balance_of

_HOUR = np.arange(0.0, 3601.0, 10.0)


def test_amps_times_time_is_the_charge() -> None:
    steady = balance_of(_HOUR, np.full(361, 14.4), np.full(361, 5.0), share=0.03, counts_a=0.0)
    assert steady.charge_ah == pytest.approx(5.0)
    assert steady.u_charge_ah == pytest.approx(0.03 * 5.0 / np.sqrt(3.0))
    assert steady.sentences[0].startswith("In 3600 s the battery took in 5.00")
    assert steady.held is not None
    assert not steady.held.tapers
    assert len(steady.sentences) == 2, "no gap, no taper and no dip to tell"


def test_amps_out_of_the_battery_are_given_out() -> None:
    drawn = balance_of(_HOUR, np.linspace(12.8, 11.0, 361), np.full(361, -5.0))
    assert drawn.charge_ah == pytest.approx(-5.0)
    assert "gave out 5.00" in drawn.sentences[0]
    assert drawn.held is None, "volts that fall all the time are held by nothing"
    assert len(drawn.sentences) == 1


def test_held_volts_with_falling_amps_and_dips_are_told() -> None:
    volts, amps = np.full(361, 14.4), np.linspace(10.0, 2.0, 361)
    volts[100:103] = volts[200:205] = 12.4
    told = " ".join(balance_of(_HOUR, volts, amps).sentences)
    assert "the volts were held at 14.40 V" in told
    assert "The amps fell from 9 to 3 A meanwhile" in told
    assert told.endswith("The volts dipped 2 times between.")


def test_a_stretch_without_readings_counts_for_nothing() -> None:
    keep = (_HOUR <= 1000.0) | (_HOUR >= 1600.0)
    some = int(keep.sum())
    cut = balance_of(_HOUR[keep], np.full(some, 14.4), np.full(some, 5.0))
    assert (cut.gaps, cut.gap_s) == (1, 600.0)
    assert cut.charge_ah == pytest.approx(5.0 * 3000.0 / 3600.0)
    keep &= (_HOUR <= 2000.0) | (_HOUR >= 2300.0)
    some = int(keep.sum())
    twice = balance_of(_HOUR[keep], np.full(some, 14.4), np.full(some, 5.0))
    assert twice.sentences[1] == "2 gaps of 900 s in all count for nothing."


@pytest.mark.parametrize("time_s", [[0.0], [0.0, 2.0, 1.0]])
def test_one_reading_or_times_that_fall_make_no_balance(time_s: list[float]) -> None:
    with pytest.raises(ValueError, match="at least two readings in order of time"):
        balance_of(np.array(time_s), np.full(len(time_s), 12.0), np.ones(len(time_s)))
