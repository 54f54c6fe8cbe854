"""What DC readings beside the volts say of whether the alternator ran unloaded.

Amps into the battery read positive, as the sheet of the job has it. Only they
load the alternator: a battery that feeds its own loads while the alternator is
unplugged does not. Where amps read out of the battery but grow with the
engine's speed, as only charging does, the ammeter is the other way round.

========================== =========================================================
seen                       taken as
========================== =========================================================
over 0.5 A into the        charging: the alternator was loaded
battery, a fifth of the
readings
over 0.5 A out of it       its own loads; loaded after all where the amps grow by a
                           third from the lower to the upper quarter of the speeds
within ±0.5 A              a clamp meter's zero
battery volts at charging  still plugged to its regulator
height
========================== =========================================================

The limits are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.cards.machine import MachineCard
from daq.model.quantity import Quantity
from daq.run.channels import ChannelData, RunData

__all__ = ["ZERO_A", "LoadSigns", "load_signs"]

Floats = NDArray[np.float64]

ZERO_A = 0.5
_SHARE = 0.2
_GROWS = 1.33
_LEAST_RANGE = 1.12
"""The upper quarter of the speeds must be so much above the lower for amps to be held against them."""
_CHARGING_SHARE = (13.3 / 12.0, 16.0 / 12.0)
"""Battery volts over its nominal ones between which it is being charged, where the card does not say."""


@dataclass(frozen=True)
class LoadSigns:
    """What was seen; None where it wasn't."""

    load_current_a: float | None = None
    """Amps that loaded the alternator; negative where the ammeter is the other way round."""
    discharge_a: float | None = None
    """Amps that the battery gave to its own loads."""
    battery_v: float | None = None
    """Median DC volts while the engine turned."""
    charging: bool = False
    """Those volts are at charging height."""


def load_signs(data: RunData, pairing: Pairing) -> LoadSigns:
    """Look at the DC channels of a run."""
    load_a, discharge_a = _current(data.first(Quantity.DC_CURRENT), pairing)
    battery_v = _battery_volts(data.first(Quantity.DC_VOLTAGE), pairing)
    charging = False
    if battery_v is not None:
        low, high = _charging_band(data.machine)
        charging = low <= battery_v <= high
    return LoadSigns(load_a, discharge_a, battery_v, charging)


def _current(channel: ChannelData | None, pairing: Pairing) -> tuple[float | None, float | None]:
    if channel is None or not bool(np.any(channel.usable)):
        return None, None
    t, amps = channel.time_s[channel.usable], channel.value[channel.usable]
    into, out = amps > ZERO_A, amps < -ZERO_A
    if float(np.mean(into)) >= _SHARE:
        return float(np.median(amps[into])), None
    if float(np.mean(out)) < _SHARE:
        return None, None
    given = float(np.median(amps[out]))
    return (given, None) if _grows_with_speed(t, -amps, pairing) else (None, -given)


def _grows_with_speed(t: Floats, amps: Floats, pairing: Pairing) -> bool:
    good = pairing.mark == Mark.GOOD
    if int(good.sum()) < 3:
        return False
    speed = np.interp(t, pairing.rows.time_s[good], pairing.rows.speed_rpm[good], left=np.nan, right=np.nan)
    known = np.isfinite(speed)
    if int(known.sum()) < 8:
        return False
    speed, amps = speed[known], amps[known]
    low, high = np.quantile(speed, (0.25, 0.75))
    slow, fast = float(np.median(amps[speed <= low])), float(np.median(amps[speed >= high]))
    return bool(high >= _LEAST_RANGE * low and fast > _GROWS * max(slow, 0.0) + ZERO_A)


def _battery_volts(channel: ChannelData | None, pairing: Pairing) -> float | None:
    """Median over the time in which rows count, so that volts before the start do not."""
    good = pairing.mark == Mark.GOOD
    if channel is None or not bool(np.any(good)):
        return None
    begin_s, end_s = pairing.rows.time_s[good][[0, -1]]
    some = channel.usable & (channel.time_s >= begin_s) & (channel.time_s <= end_s)
    return float(np.median(channel.value[some])) if bool(np.any(some)) else None


def _charging_band(machine: MachineCard | None) -> tuple[float, float]:
    nominal_v = 12.0
    if machine is not None and machine.battery is not None:
        nominal_v = float(machine.battery.nominal_voltage_v)
    low, high = (share * nominal_v for share in _CHARGING_SHARE)
    if machine is not None and machine.charging_voltage_v is None and _other_chemistry(machine):
        return np.inf, np.inf  # what is charging height for lead-acid may be the rest volts of another kind
    if machine is not None and machine.charging_voltage_v is not None:
        low = min(low, machine.charging_voltage_v[0])
    return low, high


def _other_chemistry(machine: MachineCard) -> bool:
    return machine.battery is not None and not machine.battery.lead_acid
