"""What a departure from proportion can do to an output that was scaled from another speed.

Volts in proportion to speed are a straight line through zero. Where the run
shows that line, its offset is known with an uncertainty. Where it does not, as
at one steady speed, an offset can't be excluded: a load or a regulator still
connected, the meter's own zero, or its AC band at low frequencies may hide in
it, and so may iron that is near its saturation, where volts go with less than
the speed. What that does to the output goes with the share by which the speed
lies off rated speed. And beyond the speeds seen the line may bend, by iron or by
the meter's band: that grows with the square of the stretch.

Within ``WINDOW`` of rated speed, where a service manual asks for the reading,
neither counts; from ``FAR`` on both count in full, and between they grow
steadily from zero. The widths are judgements (JCGM 100:2008, 4.3), common
practice, no source; that of the offset holds an alternator whose volts go as
n/√(1 + (n/n_rated)²/4).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.rated.budget import Contribution
from daq.rated.proportion import Proportion

__all__ = ["FAR", "WINDOW", "departure_lines", "row_departure", "unexplained_line", "unseen_half_width"]

Floats = NDArray[np.float64]

WINDOW = 0.03
"""Share of rated speed within which a hold counts as made at rated speed: about the usual ±100 rpm of 3600."""
FAR = 0.08
"""Share of rated speed from which on what one speed can't show counts in full."""
_NEAR_OFFSET = 0.005
"""Offset, as a share of the output and a standard uncertainty, that is granted to every hold."""
_UNSEEN_OFFSET = 0.24
"""Half width of the offset that one steady speed can't show: what it does to the output over how far off it lies."""
_UNSEEN_BEND = 0.10
"""Half width of the bend beyond the speeds seen: the departure at twice the speed, as a share of the output."""
_GRANTED_OFFSET = 0.02
"""Offset, as a share of the output, that iron and a meter's zero may make on a sound machine."""
_LIFT = 0.45
"""Share of the rest by which what makes it may lift the line at rated speed; judgement, held against displays of 0.5
to 1.5 s on sweeps of 14 to 30 s."""
_UNSEEN = ("offset that one speed can't show", "bend beyond the speeds seen")


def departure_lines(
    proportion: Proportion, n: Floats, seen_rpm: tuple[float, float], rated_rpm: float, value: float
) -> list[Contribution]:
    """Contributions to the budget, in volts at rated speed.

    Args:
        proportion: what the run shows of the line.
        n: speeds of the rows used, rpm, shape (n,).
        seen_rpm: least and greatest speed of all rows that count.
        rated_rpm: the rated test speed.
        value: the rated output.
    """
    stretch = float(np.mean(rated_rpm / n - 1.0))
    width = _NEAR_OFFSET * abs(value)
    if proportion.line is not None:
        width = float(np.hypot(proportion.line.offset, proportion.line.u_offset))
    lines = [Contribution("departure from proportion", width, sensitivity=stretch)]
    off = float(_off(np.array([stretch]))[0])
    if proportion.line is None and off > 0.0:
        lines.append(Contribution.from_limits(_UNSEEN[0], _UNSEEN_OFFSET * abs(value), sensitivity=off))
    beyond = max(rated_rpm / seen_rpm[1] - 1.0, 1.0 - rated_rpm / seen_rpm[0], 0.0)
    reach = float(_reach(np.array([beyond]))[0])
    if reach > 0.0:
        lines.append(Contribution.from_limits(_UNSEEN[1], _UNSEEN_BEND * abs(value), sensitivity=reach**2))
    return lines


def unexplained_line(proportion: Proportion, value: float, moving_share: float) -> list[Contribution]:
    """What may be behind a line that misses zero by more than its uncertainty, on rows taken while the speed moved.

    A tach that smooths, a meter that does, a load or turns in short tilt the line alike, and what tilts it may lift it
    at rated speed too. Rows at a steady speed near rated speed owe nothing to the line.

    Args:
        proportion: what the run shows of the line.
        value: the rated output.
        moving_share: share of the rows used that were taken while the speed moved.
    """
    line = proportion.line
    if line is None:
        return []
    beyond = abs(line.offset) - 3.0 * line.u_offset - _GRANTED_OFFSET * abs(value)
    half_width = _LIFT * max(beyond, 0.0) * moving_share
    return [Contribution.from_limits("line that misses zero", half_width)] if half_width > 0.0 else []


def unseen_half_width(lines: list[Contribution]) -> float:
    """What the run can't show of offset and bend, together, as half width in volts."""
    return float(np.sqrt(sum(3.0 * c.output_uncertainty**2 for c in lines if c.name in _UNSEEN)))


def row_departure(proportion: Proportion, speed_rpm: Floats, rated_rpm: float, rated_v: Floats) -> Floats:
    """Standard uncertainty that a departure adds to single rows, V, shape (n,)."""
    stretch = rated_rpm / speed_rpm - 1.0
    if proportion.line is not None:
        return np.asarray(np.hypot(proportion.line.offset, proportion.line.u_offset) * np.abs(stretch))
    unseen = np.hypot(_UNSEEN_OFFSET * _off(stretch), _UNSEEN_BEND * np.square(_reach(stretch))) / np.sqrt(
        3.0
    )
    return np.asarray(np.hypot(_NEAR_OFFSET * stretch, unseen) * np.abs(rated_v))


def _reach(stretch: Floats) -> Floats:
    """The part of a stretch that counts, for a bend."""
    far = np.abs(stretch)
    return np.asarray(far * np.clip((far - WINDOW) / (FAR - WINDOW), 0.0, 1.0))


def _off(stretch: Floats) -> Floats:
    """How far off the speed lies, as a share of rated speed, as much of it as counts for an offset."""
    return np.asarray(_reach(stretch) / (1.0 + stretch))
