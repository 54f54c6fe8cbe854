"""What the rated output would be if another shift, or another way of averaging, were the right one.

Where a run fits two shifts about as well, or both ways in which the tach may
average, one has to be taken. What the others would make of the rated output is
worked out, and is in its uncertainty; so is what a meter would that averages
over its whole pace, where that is slow and no card says it. For logs whose
clocks may be minutes apart nothing speaks for one shift before another: where
the output would leave its own interval by one of them, nothing is judged, save
that all of them lie far on one side of the limit. Then the stated interval
holds them all.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from daq.align.lag import LagEstimate
from daq.align.pairing import Pairing
from daq.align.streams import PlacedStreams
from daq.rated.output import RatedOutput, with_others
from daq.run.channels import RunData

__all__ = ["Alternatives", "find_alternatives", "longer_window"]

_MOST_RIVALS = 12
"""With more shifts than this so many are tried, spread evenly from first to last."""
_LONGER = 1.2
"""Times the window that was taken."""
_LONGEST_WINDOW_S = 1.0
"""No hand meter averages over much more (common practice, no source)."""
_FAR = 2.0
"""Times what the shifts' outputs differ by that all must lie from the limit for a verdict (judgement)."""


@dataclass(frozen=True)
class Alternatives:
    """How far the output lies from what the others give."""

    shift_limit_v: float = 0.0
    averaging_limit_v: float = 0.0
    in_doubt: tuple[str, ...] = ()
    """A sentence where nothing may be judged."""
    window_limit_v: float = 0.0
    shifts_alike: bool = False
    """The furthest shift is as likely as any, and all lie far on one side of the limit."""

    def beside(self, output: RatedOutput) -> RatedOutput:
        """The output with this in its budget."""
        return with_others(
            output,
            self.shift_limit_v,
            self.averaging_limit_v,
            window_limit_v=self.window_limit_v,
            shifts_alike=self.shifts_alike,
        )


def find_alternatives(
    output: RatedOutput,
    pairing: Pairing,
    again: Callable[[Pairing], RatedOutput | None],
    *,
    own_clocks: bool,
    minimum_v: float | None = None,
    longer_window_s: float | None = None,
) -> Alternatives:
    """Try the others.

    Args:
        output: as it is without any of this in its budget.
        pairing: that it rests on.
        again: the output by another pairing, of which lag and way of averaging count.
        own_clocks: volts and speed are logs of two devices.
        minimum_v: the limit that the output is held against; None for none.
        longer_window_s: over which the meter may average too, where no card says it; None for no such window.
    """
    shifts = [replace(pairing, lag=lag) for lag in _rival_lags(pairing.lag)]
    by_shift = [o.rated_voltage_v for o in map(again, shifts) if o is not None]
    by_averaging = [o.rated_voltage_v for o in map(again, _other_averaging(pairing)) if o is not None]
    by_window = [
        o.rated_voltage_v for o in map(again, _longer_window(pairing, longer_window_s)) if o is not None
    ]
    found = Alternatives(
        _furthest(output, by_shift),
        _furthest(output, by_averaging),
        window_limit_v=_furthest(output, by_window),
    )
    if own_clocks and found.shift_limit_v > output.budget.expanded_uncertainty:
        if minimum_v is not None and _far_on_one_side([*by_shift, output.rated_voltage_v], minimum_v):
            return replace(found, shifts_alike=True)
        return replace(found, in_doubt=(_sentence(output, by_shift),))
    return found


def longer_window(data: RunData, streams: PlacedStreams, pairing: Pairing) -> float | None:
    """Over which the meter may average too: its whole pace, where that is longer than usual and no card says it.

    Args:
        data: the run.
        streams: its volts and speed, placed.
        pairing: their alignment.
    """
    card = data.volts.card if data.volts is not None else None
    period_s = streams.volts_base.period_s
    if period_s is None or (card is not None and card.response.window_s):
        return None
    return (
        min(period_s, _LONGEST_WINDOW_S) if period_s > _LONGER * pairing.parameters.voltage_window_s else None
    )


def _longer_window(pairing: Pairing, window_s: float | None) -> list[Pairing]:
    if window_s is None:
        return []
    return [replace(pairing, parameters=replace(pairing.parameters, voltage_window_s=window_s))]


def _far_on_one_side(values_v: list[float], minimum_v: float) -> bool:
    """Whichever is right, the verdict is the same, with room to spare for what they differ by."""
    low, high = min(values_v), max(values_v)
    room_v = _FAR * (high - low)
    return low - minimum_v > room_v or minimum_v - high > room_v


def _rival_lags(lag: LagEstimate) -> list[LagEstimate]:
    shifts = list(lag.rivals_s)
    if len(shifts) > _MOST_RIVALS:
        shifts = [shifts[i] for i in np.linspace(0, len(shifts) - 1, _MOST_RIVALS).astype(int).tolist()]
    return [LagEstimate(shift_s, lag.u_s, determined=True) for shift_s in shifts]


def _other_averaging(pairing: Pairing) -> list[Pairing]:
    if pairing.model_rival is None:
        return []
    model, lag = pairing.model_rival
    return [replace(pairing, lag=lag, parameters=replace(pairing.parameters, tach_model=model))]


def _furthest(output: RatedOutput, others_v: list[float]) -> float:
    return max((abs(value - output.rated_voltage_v) for value in others_v), default=0.0)


def _sentence(output: RatedOutput, others_v: list[float]) -> str:
    low, high = min(*others_v, output.rated_voltage_v), max(*others_v, output.rated_voltage_v)
    return (
        f"Which shift brings the two logs together can't be told, and by those that fit about as well the rated "
        f"output is anything from {low:.2f} to {high:.2f} V: nothing is judged. Log both with one device, or make "
        "a run whose speed does not repeat itself."
    )
