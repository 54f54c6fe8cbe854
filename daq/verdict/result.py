"""The rated output of a run with its uncertainty and verdict: the fields of ``result --json``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

__all__ = ["METER_UNKNOWN", "TACH_UNKNOWN", "Result", "Verdict", "unknown_errors"]

Verdict = Literal["pass", "fail", "too_close", "no_limit", "not_enough_data"]

METER_UNKNOWN = "The meter's accuracy is unknown"
"""So begins the reason that tells that the uncertainty holds nothing of the meter's own error."""
TACH_UNKNOWN = "The tach's accuracy is unknown"


class Result(msgspec.Struct, frozen=True, kw_only=True):
    """What a run says of the alternator. None where something can't be known."""

    rated_speed_rpm: float | None = None
    rated_voltage_V: float | None = None
    standard_uncertainty_V: float | None = None
    expanded_uncertainty_V: float | None = None
    coverage_factor: float | None = None
    coverage_probability: float = 0.95
    effective_degrees_of_freedom: float | None = None
    """None where it is infinite or unknown."""
    lag_s: float | None = None
    """How much later the volts arrive than the speed of the same instant; None where it can't be seen."""
    lag_u_s: float | None = None
    volts_per_1000rpm: float | None = None
    offset_V: float | None = None
    offset_u_V: float | None = None
    pole_pairs: int | None = None
    minimum_V: float | None = None
    conformance_probability: float | None = None
    verdict: Verdict = "not_enough_data"
    rows: int = 0
    rows_rejected: int = 0
    reasons: list[str] = []

    @property
    def unknown_errors(self) -> tuple[str, ...]:
        """Whose own error is unknown and so not in the uncertainty: of "meter" and "tach"."""
        return unknown_errors(self.reasons)


def unknown_errors(reasons: Sequence[str]) -> tuple[str, ...]:
    """Whose own error is unknown by a result's reasons: of "meter" and "tach"."""
    sayings = (("meter", METER_UNKNOWN), ("tach", TACH_UNKNOWN))
    return tuple(who for who, said in sayings if any(reason.startswith(said) for reason in reasons))
