"""What the rated output would be if another shift, or another way of averaging, were the right one.

Where a run fits two shifts about as well, or both ways in which the tach may
average, one has to be taken. What the others would make of the rated output is
worked out, and is in its uncertainty. For logs whose clocks may be minutes
apart nothing speaks for one shift before another: where the output would leave
its own interval by one of them, nothing is judged.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from daq.align.lag import LagEstimate
from daq.align.pairing import Pairing
from daq.rated.output import RatedOutput

__all__ = ["Alternatives", "find_alternatives"]

_MOST_RIVALS = 12
"""With more shifts than this so many are tried, spread evenly from first to last."""


@dataclass(frozen=True)
class Alternatives:
    """How far the output lies from what the others give."""

    shift_limit_v: float = 0.0
    averaging_limit_v: float = 0.0
    in_doubt: tuple[str, ...] = ()
    """A sentence where nothing may be judged."""


def find_alternatives(
    output: RatedOutput,
    pairing: Pairing,
    again: Callable[[Pairing], RatedOutput | None],
    *,
    own_clocks: bool,
) -> Alternatives:
    """Try the others.

    Args:
        output: as it is without any of this in its budget.
        pairing: that it rests on.
        again: the output by another pairing, of which lag and way of averaging count.
        own_clocks: volts and speed are logs of two devices.
    """
    shifts = [replace(pairing, lag=lag) for lag in _rival_lags(pairing.lag)]
    by_shift = [o.rated_voltage_v for o in map(again, shifts) if o is not None]
    by_averaging = [o.rated_voltage_v for o in map(again, _other_averaging(pairing)) if o is not None]
    found = Alternatives(_furthest(output, by_shift), _furthest(output, by_averaging))
    if own_clocks and found.shift_limit_v > output.budget.expanded_uncertainty:
        return replace(found, in_doubt=(_sentence(output, by_shift),))
    return found


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
