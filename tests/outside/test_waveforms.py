"""What an AC reading means: form factor, crest factor and the error of an average-responding meter."""

from __future__ import annotations

import numpy as np
import pytest

from daq.cards.instrument import ChannelCard
from daq.job.evidence.meter_on_ac import ac_notes
from daq.job.sheet.steps import load_sheet
from daq.model.quantity import Quantity
from daq.rated.waveform import AVERAGE_RESPONDING_FACTOR, wave_factors
from tests.outside.published import held_against
from tests.runs import machine_of

SAMPLES = 400_000
# Middles of even steps over exactly one period.
PHASE = (np.arange(SAMPLES) + 0.5) / SAMPLES
SINE = np.sin(2.0 * np.pi * PHASE)
TRIANGLE = 1.0 - 4.0 * np.abs(PHASE - 0.5)
SAWTOOTH = 150.0 * PHASE
EXACT = 1e-4


@held_against("F1")
def test_sine() -> None:
    wave = wave_factors(SINE)
    assert wave.form_factor == pytest.approx(1.1107, abs=EXACT)
    assert wave.crest_factor == pytest.approx(1.4142, abs=EXACT)
    assert wave.average_responding_error == pytest.approx(0.0, abs=EXACT)
    assert pytest.approx(1.1107207345, abs=1e-10) == AVERAGE_RESPONDING_FACTOR


@held_against("F2")
def test_square() -> None:
    """Example 6-1: 10 V rms, 10 V average, form factor 1, read 11 % too high."""
    wave = wave_factors(10.0 * np.sign(SINE))
    assert (wave.rms, wave.mean_rectified) == pytest.approx((10.0, 10.0))
    assert (wave.form_factor, wave.crest_factor) == pytest.approx((1.0, 1.0))
    assert wave.average_responding_error == pytest.approx(0.1107, abs=EXACT)
    assert round(100.0 * wave.average_responding_error) == 11


@held_against("F3")
def test_triangle() -> None:
    wave = wave_factors(TRIANGLE)
    assert wave.form_factor == pytest.approx(2.0 / 3.0**0.5, abs=EXACT)
    assert wave.crest_factor == pytest.approx(1.7321, abs=EXACT)
    assert wave.average_responding_error == pytest.approx(-0.0381, abs=EXACT)


@held_against("F4")
def test_sawtooth() -> None:
    """Example 6-2: 0 to 150 V, rms 86 V, mean 75 V; the book's 1.11 over 1.155 is 0.961, 3.9 % low."""
    wave = wave_factors(SAWTOOTH)
    assert wave.rms == pytest.approx(86.6, abs=0.05)
    assert wave.mean_rectified == pytest.approx(75.0, abs=0.01)
    assert round(wave.form_factor, 3) == 1.155
    assert wave.crest_factor == pytest.approx(1.7321, abs=EXACT)
    assert round(1.11 / wave.form_factor, 3) == 0.961
    assert wave.average_responding_error == pytest.approx(-0.0381, abs=EXACT)


@held_against("F5")
def test_full_wave_rectified_sine() -> None:
    wave = wave_factors(np.abs(SINE))
    assert wave.form_factor == pytest.approx(1.1107, abs=EXACT)
    assert wave.crest_factor == pytest.approx(1.4142, abs=EXACT)
    assert wave.average_responding_error == pytest.approx(0.0, abs=EXACT)


@held_against("F6")
def test_full_wave_rectified_sine_behind_a_capacitor() -> None:
    rectified = 2.0**0.5 * np.abs(SINE)
    whole = wave_factors(rectified)
    assert (whole.rms, whole.mean_rectified) == pytest.approx((1.0, 0.9003), abs=EXACT)
    coupled = wave_factors(rectified, ac_coupled=True)
    assert coupled.rms == pytest.approx(0.4352, abs=EXACT)
    assert AVERAGE_RESPONDING_FACTOR * coupled.mean_rectified == pytest.approx(0.4210, abs=EXACT)


@held_against("F7")
def test_half_wave_rectified_sine() -> None:
    rectified = 2.0 * np.maximum(SINE, 0.0)
    whole = wave_factors(rectified)
    assert (whole.rms, whole.mean_rectified) == pytest.approx((1.0, 0.6366), abs=EXACT)
    assert (whole.form_factor, whole.crest_factor) == pytest.approx((np.pi / 2.0, 2.0), abs=EXACT)
    assert whole.average_responding_error == pytest.approx(-0.2929, abs=EXACT)
    coupled = wave_factors(rectified, ac_coupled=True)
    assert coupled.rms == pytest.approx(0.7712, abs=EXACT)
    assert AVERAGE_RESPONDING_FACTOR * coupled.mean_rectified == pytest.approx(0.7794, abs=EXACT)


@held_against("F2", "F3", "F7")
def test_the_figures_told_of_an_average_responding_meter() -> None:
    """What the job says beside a reading of such a meter are the published errors, in whole percent."""
    slot = next(
        slot for step in load_sheet().step for slot in step.slot if slot.quantity is Quantity.AC_VOLTAGE
    )
    card = ChannelCard(quantity=Quantity.AC_VOLTAGE, ac_response="average")
    (said,) = ac_notes(card, slot, machine_of(), None)
    half_wave = np.maximum(SINE, 0.0)
    square, triangle, half = (
        round(100.0 * abs(wave_factors(wave).average_responding_error))
        for wave in (np.sign(SINE), TRIANGLE, half_wave)
    )
    assert (square, triangle, half) == (11, 4, 29)
    assert f"{square} % too much on a square wave" in said
    assert f"{triangle} % too little on a triangle, {half} % too little on half waves" in said


def test_nothing_has_no_form_factor() -> None:
    with pytest.raises(ValueError, match="zeros"):
        wave_factors(np.zeros(100))
