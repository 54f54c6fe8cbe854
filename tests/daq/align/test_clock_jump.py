"""A log whose clock was set between two stretches: told from half a second on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.align.clock_jump import find_clock_jump
from daq.align.lag_fit import LagPrior
from tests.daq.align.builders import Kind, random_run
from tests.daq.align.test_pairing import paired, placed, tach_card


@pytest.mark.parametrize(
    ("kind", "set_s", "told"),
    [
        ("sweep", 0.0, False),
        ("sweep", 0.4, False),
        ("sweep", 0.8, True),
        ("sweep", -0.8, True),
        ("hunting", 0.8, False),
    ],
)
def test_a_clock_that_was_set_by_more_than_half_a_second(kind: Kind, set_s: float, told: bool) -> None:
    """Volts stop at 40 s and go on ten seconds later, by then with their clock set.

    A governor that hunts evenly fits many shifts, and then nothing is concluded.
    """
    run = random_run(kind, np.random.default_rng(5), seconds=110.0)
    keep = (run.volts_t < 40.0) | (run.volts_t > 50.0)
    volts_t = run.volts_t[keep] + np.where(run.volts_t[keep] > 50.0, set_s, 0.0)
    streams = placed(replace(run, volts_t=volts_t, volts=run.volts[keep]))
    parameters = paired(streams, tach_card(averaging="contiguous")).parameters
    jump = find_clock_jump(streams, parameters, LagPrior(), 0.01)
    assert (jump is not None) == told
    if jump is not None:
        assert jump.by_s == pytest.approx(set_s, abs=0.05)
        assert 40.0 < jump.at_s < 52.0
