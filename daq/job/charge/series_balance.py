"""The charge balance of a run of battery volts and amps, however unevenly they came, without any speed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from daq.job.streams.weighted import gap_words, longest_hold_s, time_mean
from daq.job.words import amount
from daq.model.counted import times

__all__ = ["HeldVolts", "SeriesBalance", "balance_of"]

Floats = NDArray[np.float64]

_BIN_V = 0.02
_HELD_WITHIN = 0.01
"""Share of the volts within which they count as held."""
_HELD_SHARE = 0.25
_DIP_SHARE = 0.03


@dataclass(frozen=True)
class HeldVolts:
    """Volts at which a regulator held the battery."""

    voltage_v: float
    time_s: float
    """How long in all."""
    first_current_a: float
    """Mean amps in the first quarter of that time."""
    last_current_a: float
    """Mean amps in its last quarter."""
    dips: int
    """How often the volts fell away from it between."""

    @property
    def tapers(self) -> bool:
        """The amps fell while the volts were held: the battery fills."""
        return self.last_current_a < 0.7 * self.first_current_a


@dataclass(frozen=True)
class SeriesBalance:
    """What flowed, and how."""

    mean_current_a: float
    u_mean_current_a: float
    """By scatter and the meter's limits."""
    charge_ah: float
    u_charge_ah: float
    covered_s: float
    gaps: int
    gap_s: float
    longest_step_s: float
    held: HeldVolts | None
    sentences: tuple[str, ...]


def balance_of(
    time_s: Floats, voltage_v: Floats, current_a: Floats, *, share: float = 0.0, counts_a: float = 0.0
) -> SeriesBalance:
    """Balance of volts and amps read together.

    Args:
        time_s: shape (n,), not falling, any steps.
        voltage_v: at the battery, shape (n,).
        current_a: into it, shape (n,).
        share: limit of error of the amps as a share of the reading.
        counts_a: fixed limit of error of the amps, A.

    Raises:
        ValueError: fewer than two readings, or times that fall.
    """
    if len(time_s) < 2 or bool(np.any(np.diff(time_s) < 0.0)):
        raise ValueError("a balance needs at least two readings in order of time")
    hold = longest_hold_s(time_s)
    amps = time_mean(time_s, current_a, hold_s=hold)
    limit = (share * abs(amps.mean) + counts_a) / 3.0**0.5
    u = float(np.hypot(amps.scatter_u, limit))
    charge = amps.integral / 3600.0
    u_charge = (share * abs(charge) + counts_a * amps.covered_s / 3600.0) / 3.0**0.5
    held = _held(time_s, voltage_v, current_a, hold)
    step = np.diff(time_s)
    return SeriesBalance(
        mean_current_a=amps.mean,
        u_mean_current_a=u,
        charge_ah=charge,
        u_charge_ah=u_charge,
        covered_s=amps.covered_s,
        gaps=amps.gaps,
        gap_s=amps.gap_s,
        longest_step_s=float(np.max(step)),
        held=held,
        sentences=_sentences(charge, u_charge, amps.covered_s, amps.gaps, amps.gap_s, held),
    )


def _time_of_each(time_s: Floats, hold_s: float) -> Floats:
    """How much time each reading stands for."""
    step = np.diff(time_s)
    step = np.where(step <= hold_s, step, 0.0)
    weight = np.zeros(len(time_s))
    weight[1:] += 0.5 * step
    weight[:-1] += 0.5 * step
    return weight


def _held(time_s: Floats, voltage_v: Floats, current_a: Floats, hold_s: float) -> HeldVolts | None:
    weight = _time_of_each(time_s, hold_s)
    bins = np.round(voltage_v / _BIN_V).astype(np.int64)
    values, places = np.unique(bins, return_inverse=True)
    busy = np.bincount(places, weights=weight)
    usual = float(values[int(np.argmax(busy))]) * _BIN_V
    # The busiest bin finds the place; the mean around it is the value.
    near = np.abs(voltage_v - usual) <= _HELD_WITHIN * usual
    usual = float(np.average(voltage_v[near], weights=weight[near]))
    near = np.abs(voltage_v - usual) <= _HELD_WITHIN * usual
    held_s = float(weight[near].sum())
    if held_s < _HELD_SHARE * float(weight.sum()):
        return None
    t, v, a, w = time_s[near], voltage_v[near], current_a[near], weight[near]
    done = np.cumsum(w) / held_s
    first, last = done <= 0.25, done >= 0.75
    if not bool(np.any(first)) or not bool(np.any(last)):
        return None
    inside = (time_s >= t[0]) & (time_s <= t[-1])
    away = inside & (voltage_v < (1.0 - _DIP_SHARE) * usual)
    dips = int(np.sum(np.diff(np.concatenate(([0], away.astype(np.int8)))) == 1))
    return HeldVolts(
        voltage_v=float(np.average(v, weights=w)),
        time_s=held_s,
        first_current_a=float(np.average(a[first], weights=w[first])),
        last_current_a=float(np.average(a[last], weights=w[last])),
        dips=dips,
    )


def _sentences(
    charge: float, u_charge: float, covered_s: float, gaps: int, gap_s: float, held: HeldVolts | None
) -> tuple[str, ...]:
    what = "took in" if charge >= 0.0 else "gave out"
    said = [f"In {covered_s:.0f} s the battery {what} {amount(abs(charge), u_charge, 'Ah')}."]
    if gaps:
        said.append(gap_words(gaps, gap_s))
    if held is not None:
        said.append(f"For {held.time_s:.0f} s the volts were held at {held.voltage_v:.2f} V.")
        if held.tapers:
            said.append(
                f"The amps fell from {held.first_current_a:.0f} to {held.last_current_a:.0f} A meanwhile: the battery "
                "fills and the regulator holds back."
            )
        if held.dips:
            said.append(f"The volts dipped {times(held.dips)} between.")
    return tuple(said)
