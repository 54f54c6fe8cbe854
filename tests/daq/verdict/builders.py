"""Rated outputs and evidence built from only what matters to a test."""

from __future__ import annotations

from typing import Any

from daq.align.lag import LagEstimate
from daq.rated.budget import Contribution, UncertaintyBudget, combine
from daq.rated.output import RatedOutput
from daq.rated.proportion import Proportion
from daq.verdict.evidence import Evidence

SEEN_LAG = LagEstimate(0.12, 0.004, determined=True)


def budget_of(u: float, name: str = "accuracy of the meter", sensitivity: float = 1.0) -> UncertaintyBudget:
    """A normal contribution that comes to u volts."""
    return combine([Contribution(name, u / abs(sensitivity), sensitivity=sensitivity)])


def output_of(value: float, u: float = 0.1, **changes: Any) -> RatedOutput:
    facts: dict[str, Any] = {
        "rated_speed_rpm": 3600.0,
        "rated_voltage_v": value,
        "budget": budget_of(u),
        "rows_used": 40,
        "near": True,
        "nearest_share": 0.001,
        "span_s": 30.0,
        "scatter_v": 0.02,
        "proportion": Proportion(),
        "scaled": True,
    }
    return RatedOutput(**(facts | changes))


def evidence_of(**changes: Any) -> Evidence:
    facts: dict[str, Any] = {
        "rated_speed_rpm": 3600.0,
        "minimum_v": 20.0,
        "rows": 100,
        "rows_rejected": 0,
        "lag": SEEN_LAG,
        "lag_u_s": 0.005,
        "meter_known": True,
        "meter_digit_v": 0.01,
        "tach_known": True,
    }
    return Evidence(**(facts | changes))
