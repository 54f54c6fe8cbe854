"""Average-responding meters and meters beyond their band are told (checks F1 to F7)."""

from __future__ import annotations

import numpy as np
import pytest
from msgspec.structs import replace

from daq.cards.instrument import ChannelCard
from daq.job.evidence.meter_on_ac import ac_notes
from daq.model.quantity import Quantity
from daq.rated.waveform import wave_factors
from tests.daq.job.builders import CART, slot_of

SIX_PAIRS = replace(CART, pole_pairs=6)


def meter(**changes: object) -> ChannelCard:
    return ChannelCard(quantity=Quantity.AC_VOLTAGE, **changes)  # type: ignore[arg-type]  # a builder takes any field


def test_an_average_responding_meter_is_told_wherever_ac_is_read() -> None:
    for slot in ("output", "plugged_in_voltage", "ripple_voltage"):
        (note,) = ac_notes(meter(ac_response="average"), slot_of(slot), CART, 3600)
        assert "average-responding" in note


def test_the_errors_told_are_those_of_the_waves() -> None:
    phase = (np.arange(4000) + 0.5) / 4000
    triangle = 4.0 * np.abs(phase - np.floor(phase + 0.5)) - 1.0
    half_wave = np.maximum(np.sin(2.0 * np.pi * phase), 0.0)
    found = [
        100.0 * wave_factors(wave).average_responding_error
        for wave in (np.sign(np.sin(2 * np.pi * phase)), triangle, half_wave)
    ]
    assert found == [pytest.approx(11, abs=0.5), pytest.approx(-4, abs=0.5), pytest.approx(-29, abs=0.5)]


def test_a_true_rms_meter_within_its_band_has_nothing_told() -> None:
    card = meter(ac_response="true_rms", band_hz=(40, 1000))
    assert ac_notes(card, slot_of("plugged_in_voltage"), SIX_PAIRS, 3600) == ()


def test_an_unknown_meter_is_doubted_on_distorted_waves_only() -> None:
    assert ac_notes(None, slot_of("output"), CART, 3600) == ()
    assert "no sine" in ac_notes(None, slot_of("ripple_voltage"), CART, 3600)[0]


def test_beyond_the_band_is_told_with_the_frequency() -> None:
    """12 poles at 3600 rpm: 360 Hz (check S3)."""
    card = meter(ac_response="true_rms", band_hz=(45, 100))
    (note,) = ac_notes(card, slot_of("output"), SIX_PAIRS, None)
    assert "360 Hz lie beyond the 45 to 100 Hz" in note
    assert ac_notes(card, slot_of("output"), SIX_PAIRS, 900) == ()
    assert ac_notes(card, slot_of("output"), CART, None) == ()


def test_dc_has_no_such_notes() -> None:
    assert ac_notes(meter(ac_response="average"), slot_of("rest_voltage"), CART, 3600) == ()
