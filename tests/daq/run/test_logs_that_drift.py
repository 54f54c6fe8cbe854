"""Two logs of a machine that warms up: the right shift is found, or that it can't be told is told."""

from __future__ import annotations

import numpy as np
import pytest

from daq.run.analysis import analyse
from tests.daq.run.heated import LAG_S, falling, heated, hunting, sweeping, warming


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("period_s", "share"), [(30.0, 0.03), (30.0, 0.04), (20.0, 0.03)])
@pytest.mark.parametrize("off_s", [0.0, 140.0])
def test_no_shift_by_a_whole_sweep_is_stated(seed: int, period_s: float, share: float, off_s: float) -> None:
    data = heated(
        lambda t: sweeping(t, period_s),
        warming(21.5, share),
        seed=seed,
        own_clocks=True,
        clock_off_s=off_s,
    )
    result = analyse(data).result
    if result.lag_s is None:
        assert any("ambiguous" in reason for reason in result.reasons)
        return
    assert result.lag_s == pytest.approx(LAG_S - off_s, abs=0.06)
    assert result.rows_rejected < 10


def test_an_even_fall_leaves_the_right_shift() -> None:
    result = analyse(heated(sweeping, falling(21.5, 19.9), own_clocks=True)).result
    assert result.lag_s == pytest.approx(LAG_S, abs=0.03)
    assert result.verdict == "too_close"


@pytest.mark.parametrize("seed", range(4))
def test_a_hunt_that_warms_up_is_brought_together_rightly(seed: int) -> None:
    result = analyse(heated(hunting, warming(21.5, 0.02), seed=seed, own_clocks=True)).result
    assert result.lag_s == pytest.approx(LAG_S, abs=0.06)


def test_without_warm_up_nothing_is_lost() -> None:
    for seed in range(3):
        data = heated(
            sweeping, lambda t: np.full(len(t), 21.0), seed=seed, own_clocks=True, clock_off_s=-35.0
        )
        result = analyse(data).result
        assert result.verdict == "pass"
        assert result.lag_s == pytest.approx(LAG_S + 35.0, abs=0.03)
