"""Two logs between which no shift is found: what only their rows say is not told, but that the shift isn't known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.run.analysis import Analysis, analyse
from daq.run.unpaired_doubts import told_of_unpaired
from tests.daq.run.short_logs import engine_of, two_logs
from tests.daq.verdict.builders import evidence_of

Floats = NDArray[np.float64]
_OF_ROWS = (
    "two levels",
    "is another",
    "do not follow",
    "scatter",
    "with time",
    "at once",
    "jump away",
    "misses zero",
)


def analysed(seed: int, *, imported: bool = True) -> Analysis:
    """A throttle opened and let go once, or set to four speeds in turn; about half a minute of it."""
    rng = np.random.default_rng(seed + 500)
    if seed % 2 == 0:
        corners = np.array([0.0, 4.0, 14.0, 17.0, 27.0, 30.0]) * rng.uniform(0.65, 1.1)
        turns = corners, np.array([1700.0, 1700.0, 3800.0, 3800.0, 1900.0, 3600.0])
    else:
        corners = np.array([0.0, 7.5, 8.5, 15.5, 16.5, 23.5, 24.5, 30.0]) * rng.uniform(0.7, 1.1)
        turns = corners, np.repeat(rng.uniform(2400.0, 3900.0, 4).round(), 2)
    window_s, apart_s = 0.05 if seed % 4 < 2 else 1.0, (0.0, 3.2, 67.0)[seed % 3]
    return analyse(
        two_logs(engine_of(turns), seed=seed, speed_window_s=window_s, apart_s=apart_s, imported=imported)
    )


@pytest.mark.parametrize("seed", [4, 16, 22, 24, 25, 37, 49])
def test_what_rests_on_rows_of_an_unknown_shift_is_not_told(seed: int) -> None:
    done = analysed(seed)
    assert done.pairing is not None
    assert not done.pairing.lag.determined
    result = done.result
    assert result.verdict == "not_enough_data"
    assert result.rated_voltage_V is None
    assert result.reasons[0].startswith(
        "The speed moved, and no shift between the clocks of the two logs was found"
    )
    assert "Log both with one device" in result.reasons[0]
    assert not [r for r in result.reasons if any(words in r for words in _OF_ROWS)]
    assert not [r for r in result.reasons if "too loosely" in r]


@pytest.mark.parametrize("seed", [20, 32, 44, 48])
def test_three_readings_a_second_apart_are_no_moment(seed: int) -> None:
    """An engine that speeds up within some seconds is no tach that begins to count otherwise."""
    result = analysed(seed).result
    assert result.rated_voltage_V is not None
    assert result.expanded_uncertainty_V is not None
    assert abs(result.rated_voltage_V - 24.0) <= result.expanded_uncertainty_V
    assert not any("at once" in r for r in result.reasons)
    assert any("what that may do is in the uncertainty" in r for r in result.reasons)


def test_a_speed_that_holds_needs_no_shift() -> None:
    held = np.array([0.0, 40.0]), np.array([3600.0, 3600.0])
    result = analyse(two_logs(engine_of(held))).result
    assert result.verdict == "pass"
    assert result.lag_s is None
    assert result.expanded_uncertainty_V is not None
    assert result.expanded_uncertainty_V < 0.1
    assert any("moved too little to show the lag" in r for r in result.reasons)
    assert not any("no shift" in r.lower() for r in result.reasons)


def test_of_one_device_nothing_is_held_back() -> None:
    assert not any("no shift" in r.lower() for r in analysed(24, imported=False).result.reasons)


def test_doubts_that_need_no_rows_stand_and_notes_of_the_rows_go() -> None:
    before = evidence_of(in_doubt=("The clock jumps.",), notes=("The file is cut.",))
    after = evidence_of(in_doubt=before.in_doubt, notes=("The output falls.", *before.notes))
    assert told_of_unpaired(None, before, after).in_doubt == before.in_doubt
    assert told_of_unpaired(None, before, after).notes == before.notes
    refused = told_of_unpaired(None, before, evidence_of(in_doubt=("Two levels.", *before.in_doubt)))
    assert refused.in_doubt[0] == "The clock jumps."
    assert len(refused.in_doubt) == 2
    assert "Two levels." not in refused.in_doubt
    assert refused.unpaired
