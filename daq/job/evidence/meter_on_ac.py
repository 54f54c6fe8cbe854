"""What has to be told of an AC reading: the meter's way of averaging, and the frequencies it is good for.

An average-responding meter shows the rms of a sine only: it reads 11 % too much
on a square wave (Helfrick & Cooper, example 6-1), 4 % too little on a triangle,
and 29 % too little on a half-wave rectified sine (by definition).
"""

from __future__ import annotations

from daq.cards.instrument import ChannelCard
from daq.cards.machine import MachineCard
from daq.job.sheet.steps import Slot
from daq.model.quantity import Quantity
from daq.rated.poles import frequency_hz

__all__ = ["ac_notes"]

_DISTORTED = frozenset({"stator_loaded", "battery"})
"""Places where the wave is far from a sine: a stator that feeds a rectifier, ripple."""


def ac_notes(
    card: ChannelCard | None, slot: Slot, machine: MachineCard, speed_rpm: float | None
) -> tuple[str, ...]:
    """Sentences for an AC reading; () for any other.

    Args:
        card: of the meter's channel, if known.
        slot: what was read.
        machine: its pole pairs give the frequency.
        speed_rpm: at which it was read; None takes rated speed.
    """
    if slot.quantity is not Quantity.AC_VOLTAGE:
        return ()
    said = []
    response = card.ac_response if card is not None else None
    if response == "average":
        said.append(
            "This meter is average-responding: right on a sine only, 11 % too much on a square wave, 4 % too little on "
            "a triangle, 29 % too little on half waves."
        )
    elif response is None and slot.place in _DISTORTED:
        said.append(
            "The wave is no sine here, and the meter's card does not say whether it is true-rms: the reading may be "
            "off by a tenth and more."
        )
    band = card.band_hz if card is not None else None
    if band is not None and machine.pole_pairs is not None:
        at_hz = frequency_hz(speed_rpm or machine.rated_speed_rpm, 2 * machine.pole_pairs)
        if not band[0] <= at_hz <= band[1]:
            said.append(
                f"{at_hz:.0f} Hz lie beyond the {band[0]:g} to {band[1]:g} Hz that the meter is good for: its accuracy "
                "does not hold there."
            )
    return tuple(said)
