"""Speeds in another unit than rpm: said with what to do, and never an engine that stands beside live volts."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.run.analysis import analyse
from daq.verdict.result import Result
from tests.daq.run.builders import run, with_value


def told(factor: float, *, imported: bool = True, volts: float = 1.0) -> Result:
    data = run(own_clocks=imported)
    data = with_value(data, 1, data.channels[1].value * factor)
    return analyse(with_value(data, 0, np.round(data.channels[0].value * volts, 2))).result


@pytest.mark.parametrize(("factor", "unit"), [(0.001, "[krpm]"), (1.0 / 60.0, "[1/s]")])
def test_the_unit_is_guessed_and_how_to_name_it_is_said(factor: float, unit: str) -> None:
    result = told(factor)
    assert result.rated_voltage_V is None
    assert unit in result.reasons[0]
    assert "header" in result.reasons[0]
    assert not any("engine standing" in r for r in result.reasons)


def test_live_the_tach_is_to_be_set() -> None:
    result = told(0.001, imported=False)
    assert "Set the tach to rpm" in result.reasons[0]
    assert "header" not in result.reasons[0]


def test_without_volts_the_engine_may_stand() -> None:
    result = told(0.001, volts=0.001)
    assert not any("no engine turns so slowly" in r for r in result.reasons)


def test_an_engine_that_turns_is_in_rpm() -> None:
    result = analyse(replace(run(), imported=True)).result
    assert result.rated_voltage_V is not None
    assert not any("no engine turns so slowly" in r for r in result.reasons)
