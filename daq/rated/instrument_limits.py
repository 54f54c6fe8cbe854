"""An instrument's limits of error, from its card or, without one, from its digits."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard

__all__ = ["InstrumentLimits", "digit_of", "step_of"]

Floats = NDArray[np.float64]

_CHANCE = 1e-6
"""Of all moves being multiples of a step by accident, above which the step is not believed."""
_LEAST_MOVES = 6
_RANGE_ROWS = 8
"""So many readings, next to each other in size, show the last digit of their range."""
_MOST_ROWS = 400
_FEW_VALUES = 3
_ONE_RANGE = 10.0
"""From one range of a meter to the next its digit is ten times as coarse."""


@dataclass(frozen=True)
class InstrumentLimits:
    """±(share of reading + counts of the last digit), and the last digit itself."""

    known: bool
    """Whether the card states an accuracy."""
    share: float
    counts: float
    digit: float
    """Last digit, in the channel's unit; the step in which the readings move where that is coarser."""
    read_off: bool = False
    """The digit was read off the values, no card says it."""

    @classmethod
    def of(cls, card: ChannelCard | None, values: Floats) -> InstrumentLimits:
        """From a channel's card, the last digit read off the values where the card does not say."""
        read_off = card is None or card.resolution is None
        written = digit_of(values) if card is None or card.resolution is None else card.resolution
        digit = step_of(values, written)
        if card is None or card.accuracy is None:
            return cls(False, 0.0, 0.0, digit, read_off)
        return cls(True, card.accuracy.percent_of_reading / 100.0, card.accuracy.counts, digit, read_off)

    def at(self, values: Floats, level: float | None = None) -> InstrumentLimits:
        """The same with the digit of the range in which these values were read.

        A meter that chooses its range has coarser digits above a level: the
        digit is that of the readings about the level, or the mean of all where that
        is more. As it was where a card says the digit.

        Args:
            values: in order of time, shape (n,).
            level: what is to be stated; None or beyond them: their middle.
        """
        if not self.read_off or len(values) < _RANGE_ROWS:
            return self
        # Each value once: a reading that stands at 24.00 for long says of its digit no more than once.
        ordered = np.unique(values)
        if len(ordered) < _FEW_VALUES:
            return replace(self, digit=max(self.digit, min(digit_of(ordered), _ONE_RANGE * self.digit)))
        ordered = ordered[:: -(-len(ordered) // _MOST_ROWS)]
        groups = np.array_split(ordered, max(len(ordered) // _RANGE_ROWS, 1))
        digits = np.array([digit_of(group) for group in groups])
        of_value = digits[np.searchsorted([group[-1] for group in groups[:-1]], values)]
        # It may be the very place where the range changes: both sides of it.
        inside = level is not None and ordered[0] <= level <= ordered[-1]
        middle = level if level is not None and inside else float(np.median(values))
        at = int(np.searchsorted([group[-1] for group in groups[:-1]], middle))
        beside = digits[max(at - 1, 0) : at + 2]
        return replace(self, digit=max(self.digit, float(np.mean(of_value)), float(np.max(beside))))

    def limit(self, values: Floats) -> Floats:
        """Half width of the limits at each value, shape of ``values``."""
        return self.share * np.abs(values) + self.counts * self.digit


def digit_of(values: Floats) -> float:
    """Weight of the last decimal digit that the values use: 0.01 for 19.62 and 20.5; 0 without values.

    Only the first thousand are looked at, and no more than six decimals.
    """
    sample = values[np.isfinite(values)][:1000]
    if len(sample) == 0:
        return 0.0
    for decimals in range(7):
        scaled = sample * 10.0**decimals
        if bool(np.all(np.abs(scaled - np.rint(scaled)) < 1e-6 * np.maximum(1.0, np.abs(scaled)))):
            return float(10.0**-decimals)
    return 1e-6


def step_of(values: Floats, digit: float) -> float:
    """The step in which the values move, where they visibly move in coarser steps than their last digit.

    Every change from one reading to the next is a whole number of such steps,
    more often than accident allows, and not all changes are alike, as on a ramp
    of even steps; and changes of a single step or two are among them.

    Args:
        values: in order of time, shape (n,); NaN are left out.
        digit: last digit of the values; 0 gives 0.
    """
    if digit <= 0.0:
        return digit
    places = np.rint(values[np.isfinite(values)][:50_000] / digit)
    moves = np.diff(places).astype(np.int64)
    moves = moves[moves != 0]
    if len(moves) < _LEAST_MOVES or len(np.unique(moves)) < 2:
        return digit
    step = int(np.gcd.reduce(np.abs(moves)))
    small = int(np.sum(np.abs(moves) <= 2 * step))
    if step < 2 or small < _LEAST_MOVES or float(step) ** -float(len(moves)) > _CHANCE:
        return digit
    return step * digit
