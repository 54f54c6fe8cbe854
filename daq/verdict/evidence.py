"""What is known of a run besides the number itself."""

from __future__ import annotations

from dataclasses import dataclass, field

from daq.align.lag import LagEstimate
from daq.align.marks import Mark

__all__ = ["Evidence"]

_LOADED_A = 0.5
"""A current above this is a load; below it, the zero error of a clamp meter."""


@dataclass(frozen=True)
class Evidence:
    """Facts from which the reasons are worded."""

    rated_speed_rpm: float | None
    minimum_v: float | None
    rows: int
    """Volts readings, those kept out among them."""
    rows_rejected: int
    rejected: dict[Mark, int] = field(default_factory=dict)
    """How many rows were kept out, by mark."""
    false_speed_readings: int = 0
    lag: LagEstimate | None = None
    lag_u_s: float | None = None
    """Standard uncertainty of the lag with that of the clocks in it."""
    pole_pairs: int | None = None
    meter_known: bool = False
    meter_digit_v: float = 0.0
    tach_known: bool = False
    tach_model: str = ""
    tach_model_chosen: bool = False
    """The tach's way of averaging was chosen from the data, no card says it."""
    tach_model_assumed: bool = False
    """No card says how it averages, and the data fit both ways about as well."""
    averaging_limit_v: float = 0.0
    """How much that may matter to the rated output."""
    has_volts: bool = True
    has_speed: bool = True
    frequency_hz: float | None = None
    """Usual frequency of the volts, told where there is no speed."""
    card_pole_pairs: int | None = None
    """Of the machine card, told with the frequency."""
    speed_gaps: int = 0
    """Holes in the speed readings too long to bridge."""
    dropout_s: float = 0.0
    """Time that the volts were away while the engine ran."""
    dropouts: int = 0
    load_current_a: float | None = None
    """Current that loaded the alternator, into the battery; negative by an ammeter the other way round."""
    discharge_a: float | None = None
    """Current that the battery gave to its own loads, which load no alternator."""
    battery_v: float | None = None
    """DC volts while the engine turned."""
    charging: bool = False
    """Those volts are as high as when a battery is charged: the regulator is still connected."""
    in_doubt: tuple[str, ...] = ()
    """Sentences that forbid a verdict: what the result would rest on contradicts itself."""
    unfollowed: bool = False
    """One of these says that volts and speed do not move alike, so that their lag can't be spoken of."""
    unpaired: bool = False
    """It isn't known which volts belong to which speed: no shift was found between the clocks of two logs."""
    notes: tuple[str, ...] = ()
    """Sentences from elsewhere: the recording's problems, the pole-pair check."""

    @property
    def loaded(self) -> bool:
        """A current flowed: the volts are not those of the open circuit."""
        return self.load_current_a is not None and abs(self.load_current_a) > _LOADED_A
