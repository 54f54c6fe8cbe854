"""An instrument's limits of error, from its card or, without one, from its digits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard

__all__ = ["InstrumentLimits", "digit_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class InstrumentLimits:
    """±(share of reading + counts of the last digit), and the last digit itself."""

    known: bool
    """Whether the card states an accuracy."""
    share: float
    counts: float
    digit: float
    """Last digit, in the channel's unit."""

    @classmethod
    def of(cls, card: ChannelCard | None, values: Floats) -> InstrumentLimits:
        """From a channel's card, the last digit read off the values where the card does not say."""
        digit = card.resolution if card is not None and card.resolution is not None else digit_of(values)
        if card is None or card.accuracy is None:
            return cls(False, 0.0, 0.0, digit)
        return cls(True, card.accuracy.percent_of_reading / 100.0, card.accuracy.counts, digit)

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
