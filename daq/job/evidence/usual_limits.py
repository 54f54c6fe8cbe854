"""Accuracy taken for an instrument whose card does not state it: usual hand-held ones.

Common practice, no source; whoever knows better puts the instrument's own
figures in its card.
"""

from __future__ import annotations

from daq.cards.instrument import Accuracy
from daq.model.quantity import Quantity

__all__ = ["USUAL", "USUAL_SOURCE", "usual_accuracy"]

USUAL_SOURCE = "usual limits of a hand-held instrument: common practice, no source"

USUAL: dict[Quantity, Accuracy] = {
    Quantity.AC_VOLTAGE: Accuracy(percent_of_reading=1.5, counts=5),
    Quantity.DC_VOLTAGE: Accuracy(percent_of_reading=0.8, counts=3),
    Quantity.DC_CURRENT: Accuracy(percent_of_reading=2.0, counts=5),
    Quantity.RESISTANCE: Accuracy(percent_of_reading=1.2, counts=5),
    Quantity.FREQUENCY: Accuracy(percent_of_reading=0.1, counts=2),
    Quantity.ROTATIONAL_SPEED: Accuracy(percent_of_reading=0.1, counts=1),
    Quantity.TEMPERATURE: Accuracy(percent_of_reading=2.0, counts=2),
}
"""By quantity: ±(percent of reading + counts of the last digit)."""


def usual_accuracy(quantity: Quantity | None) -> Accuracy:
    """The usual limits; nothing for what is counted."""
    return USUAL.get(quantity, Accuracy()) if quantity is not None else Accuracy()
