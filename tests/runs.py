"""Runs built from columns, for tests and benchmarks that go through the whole analysis."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.cards.instrument import ChannelCard
from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.recording.entries import ChannelEntry
from daq.run.channels import ChannelData, RunData

__all__ = ["channel_of", "machine_of", "run_of"]

Floats = NDArray[np.float64]


def machine_of(rated_rpm: float = 3600.0, minimum_v: float | None = None) -> MachineCard:
    """A machine of the invented nursery's sprayer cart."""
    return MachineCard(
        name="sprayer-cart",
        title="Sprayer cart of the nursery",
        rated_speed_rpm=rated_rpm,
        minimum_ac_voltage_v=minimum_v,
    )


def channel_of(
    number: int, quantity: Quantity, time_s: Floats, value: Floats, card: ChannelCard | None = None
) -> ChannelData:
    """A channel whose readings are all good, NaN aside."""
    entry = ChannelEntry(
        channel=number,
        quantity=quantity,
        unit=quantity.unit,
        instrument=f"instrument-{number}",
        address="none",
        card={},
        card_channel=0,
    )
    return ChannelData(entry, card, time_s, value, np.zeros(len(time_s), np.int8))


def run_of(
    volts: tuple[Floats, Floats],
    speed: tuple[Floats, Floats],
    *,
    machine: MachineCard,
    meter: ChannelCard | None = None,
    tach: ChannelCard | None = None,
    current_a: float | None = None,
) -> RunData:
    """Volts and speed as (times, values), with a steady current beside them if one is given."""
    channels = [
        channel_of(0, Quantity.AC_VOLTAGE, *volts, meter),
        channel_of(1, Quantity.ROTATIONAL_SPEED, *speed, tach),
    ]
    if current_a is not None:
        channels.append(channel_of(2, Quantity.DC_CURRENT, volts[0], np.full(len(volts[0]), current_a), None))
    return RunData(tuple(channels), machine)
