"""What was observed for one slot of the sheet: a value with what is known of its worth."""

from __future__ import annotations

import msgspec

from daq.job.evidence.trouble import Trouble
from daq.job.streams.opens import Opening
from daq.job.streams.stopping import EngineStop
from daq.model.quantity import Quantity

__all__ = ["CurvePoint", "Observed", "RatedFound", "TYPED"]

TYPED = "typed in"


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
    offset_v: float | None = None
    """Where the line of volts against speed meets zero speed; None where the speed moved too little."""
    u_offset_v: float | None = None
    dropouts: int = 0
    dropout_s: float = 0.0
    highest_speed_rpm: float | None = None
    reasons: tuple[str, ...] = ()


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
