"""Sentences where volts and speed do not move alike: a held display, a regulator, a load, a tach that scatters."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.streams import PlacedStreams
from daq.rated.following import Spells, Track, Unfollowed, find_unfollowed
from daq.rated.instrument_limits import InstrumentLimits
from daq.run.channels import RunData

__all__ = ["follow_doubts", "speed_track", "volts_track"]

Floats = NDArray[np.float64]


def follow_doubts(
    data: RunData,
    streams: PlacedStreams,
    pairing: Pairing,
    meter: InstrumentLimits,
    tach: InstrumentLimits,
) -> tuple[str, ...]:
    """A sentence that forbids a verdict; empty where volts and speed move alike, or too little to tell."""
    lag = pairing.lag
    found = find_unfollowed(
        speed_track(streams, pairing, tach),
        volts_track(streams, pairing, meter),
        together=not data.own_clocks or (lag.determined and not lag.rivals_s),
        meter_window_s=_longest_window(data, streams, pairing),
    )
    return () if found is None else (_sentence(found, meter.digit),)


def _longest_window(data: RunData, streams: PlacedStreams, pairing: Pairing) -> float:
    """Over which one volts reading may average: where no card says it, up to the whole time between two."""
    card = data.volts.card if data.volts is not None else None
    if card is not None and card.response.window_s:
        return pairing.parameters.voltage_window_s
    return max(pairing.parameters.voltage_window_s, streams.volts_base.period_s or 0.0)


def volts_track(streams: PlacedStreams, pairing: Pairing, meter: InstrumentLimits) -> Track:
    """The volts readings, at the times of the speed as far as the lag is known."""
    at = streams.volts_base.time_s - pairing.lag.lag_s
    return _track(at, streams.volts, streams.marks.volts, meter)


def speed_track(streams: PlacedStreams, pairing: Pairing, tach: InstrumentLimits) -> Track:
    """The tach readings; of a counter the speeds beside the volts."""
    if not streams.counted:
        return _track(streams.speed_base.time_s, streams.speed, streams.marks.speed, tach)
    good = (pairing.mark == Mark.GOOD) & np.isfinite(pairing.rows.speed_rpm)
    return Track(pairing.rows.time_s[good] - pairing.lag.lag_s, pairing.rows.speed_rpm[good], tach)


def _track(time_s: Floats, value: Floats, mark: NDArray[np.uint8], limits: InstrumentLimits) -> Track:
    """Readings that count, and those that were left out for standing still."""
    chosen = ((mark == Mark.GOOD) | (mark == Mark.STUCK)) & np.isfinite(value)
    if bool(chosen.all()):
        return Track(time_s, value, limits)
    return Track(time_s[chosen], value[chosen], limits)


def _sentence(found: Unfollowed, digit_v: float) -> str:
    places = max(0, round(-np.log10(digit_v))) if digit_v > 0.0 else 2
    (slow, fast), (low, high) = found.speed_rpm, found.voltage_v
    speed, volts = f"from {slow:.0f} to {fast:.0f} rpm", f"from {low:.4g} to {high:.4g} V"
    if found.kind == "volts_held":
        return (
            f"The volts stood at {low:.{places}f} V to the digit while the speed went {speed}: the meter holds an old "
            "value, or something holds the volts. Press its HOLD, MAX or MIN off, see that the alternator's AC leads "
            "are unplugged, and repeat; nothing is judged."
        )
    if found.kind == "volts_still":
        return (
            f"The volts do not follow the speed: the speed went {speed}, the volts only {volts}. A regulator or a load "
            "that is still connected holds them, the meter is not on AC volts, or the tach wanders by itself. Unplug "
            "the alternator's AC leads, aim at one clean mark, and repeat; nothing is judged."
        )
    if found.kind == "speed_held":
        return (
            f"The speed stood at {slow:.0f} rpm to the digit while the volts went {volts}: the tach holds an old "
            "value, or the volts change by themselves. Aim it at the mark again, keep its button pressed if it has "
            "one, and repeat; nothing is judged."
        )
    if found.kind == "volts_alone":
        return (
            f"The volts went {volts} while the speed went only {speed}{_spells(found.low, low)}: a lead or a joint "
            "that comes loose, a load that comes and goes, or a tach that is late or holds its value. Nothing is "
            "judged; see to both and repeat."
        )
    return (
        f"The tach's readings jump between {slow:.0f} and {fast:.0f} rpm from one to the next while the volts stay "
        f"between {low:.4g} and {high:.4g} V, which no engine does: the tach misses the mark at times, or counts "
        "something else. Which of its readings are right can't be told, so nothing is judged. Clean the mark, aim "
        "from nearer, shade it from lamps, and repeat."
    )


def _spells(low: Spells | None, low_v: float) -> str:
    if low is None:
        return ""
    times = "once" if low.count == 1 else f"{low.count} times, {low.longest_s:.1f} s at the longest, first"
    return (
        f"; they stood at about {low_v:.4g} V for {low.total_s:.1f} s in all, {times} at {low.first_s:.0f} s"
    )
