"""What was observed for one slot of the sheet: a value with what is known of its worth."""

from __future__ import annotations

import msgspec

from daq.job.evidence.trouble import Trouble
from daq.job.streams.opens import Opening
from daq.job.streams.stopping import EngineStop
from daq.job.words import amount, with_wide
from daq.model.quantity import Quantity
from daq.verdict.result import unknown_errors

__all__ = ["CurvePoint", "Observed", "RatedFound", "TYPED"]

TYPED = "typed in"
_COVERAGE = 2.0


class CurvePoint(msgspec.Struct, frozen=True):
    """Amps at a held speed."""

    speed_rpm: float
    current_a: float
    u_current_a: float
    u_limit_a: float = 0.0
    """The part of it that all readings of one meter have in common: its own limit of error."""


class RatedFound(msgspec.Struct, frozen=True, kw_only=True):
    """What volts and speed together say of the AC output."""

    rated_speed_rpm: float
    rated_voltage_v: float | None = None
    u_rated_voltage_v: float = 0.0
    degrees_of_freedom: float | None = None
    """None where infinite or unknown."""
    coverage_factor: float | None = None
    """Factor of the ± for 95 %, as ``result`` has it; None where it was typed in: twice the standard uncertainty."""
    offset_v: float | None = None
    """Where the line of volts against speed meets zero speed; None where the speed moved too little."""
    u_offset_v: float | None = None
    dropouts: int = 0
    dropout_s: float = 0.0
    highest_speed_rpm: float | None = None
    reasons: tuple[str, ...] = ()

    @property
    def wide_v(self) -> float:
        """The ± of the rated volts."""
        return (_COVERAGE if self.coverage_factor is None else self.coverage_factor) * self.u_rated_voltage_v

    @property
    def at_least(self) -> bool:
        """Whether an instrument's own error is unknown and so not in the ±."""
        return bool(unknown_errors(self.reasons))

    @property
    def words(self) -> str:
        """The rated volts with their ±; "" where there are none."""
        if self.rated_voltage_v is None:
            return ""
        if self.coverage_factor is None:
            return amount(self.rated_voltage_v, self.u_rated_voltage_v, "V")
        return with_wide(self.rated_voltage_v, self.wide_v, "V", least=self.at_least)

    @property
    def full_words(self) -> str:
        """The same with the factor of the ± where it is one of its own."""
        if self.coverage_factor is None:
            return self.words
        return f"{self.words} (k = {self.coverage_factor:.2f})"


class Observed(msgspec.Struct, frozen=True, kw_only=True):
    """One slot's reading, typed in or from a recording."""

    slot: str
    quantity: Quantity | None
    """None for a count."""
    value: float | None
    """In the quantity's unit; None where there is none, or where the meter was over range."""
    overload: bool = False
    """Over range; on ohms an open circuit."""
    scatter_u: float = 0.0
    share: float = 0.0
    """The instrument's limit as a share of the reading."""
    counts: float = 0.0
    """The instrument's limit that does not go with the reading, in the quantity's unit."""
    digit: float = 0.0
    accuracy_source: str = ""
    readings: int = 1
    span_s: float = 0.0
    speed_rpm: float | None = None
    """Speed at which it was taken, where that was recorded."""
    origin: str = TYPED
    openings: tuple[Opening, ...] = ()
    rated: RatedFound | None = None
    curve: tuple[CurvePoint, ...] = ()
    stop: EngineStop | None = None
    troubles: tuple[Trouble, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether it may be judged."""
        return not self.troubles and (self.value is not None or self.overload or self.rated is not None)

    @property
    def u(self) -> float:
        """Standard uncertainty of the value: scatter, the instrument's limits (rectangular), last digit."""
        return self.u_without_counts(self.counts)

    def u_without_counts(self, counts: float = 0.0) -> float:
        """The same where a zero reading took the instrument's fixed part away."""
        limits = self._limits(counts) ** 2
        return float((self.scatter_u**2 + limits + self.digit**2 / 12.0) ** 0.5)

    @property
    def u_limit(self) -> float:
        """The part of it that all readings of one meter have in common: the instrument's limits."""
        return self._limits(self.counts)

    def _limits(self, counts: float) -> float:
        value = 0.0 if self.value is None else self.value
        return float((((self.share * value) ** 2 + counts**2) / 3.0) ** 0.5)
