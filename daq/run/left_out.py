"""What was left out of a run, counted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.align.marks import Mark
from daq.align.pairing import Pairing
from daq.align.parts import parts
from daq.align.streams import PlacedStreams
from daq.model.reading import Quality
from daq.run.channels import ChannelData

__all__ = ["dropouts_of", "kept_out", "quality_counts"]


def kept_out(pairing: Pairing) -> dict[Mark, int]:
    """How many rows were kept out, by mark."""
    return {Mark(k): n for k, n in _how_often(pairing.mark).items() if k != Mark.GOOD}


def quality_counts(channel: ChannelData) -> dict[Quality, int]:
    """How many readings had which quality."""
    return {Quality(k): n for k, n in _how_often(channel.quality).items()}


def _how_often(numbers: NDArray[np.uint8] | NDArray[np.int8]) -> dict[int, int]:
    """How often each of the small numbers occurs that do."""
    counts = np.zeros(256, np.int64)
    for part in parts(len(numbers)):
        counts += np.bincount(numbers[part], minlength=len(counts))
    return {int(k): int(counts[k]) for k in np.flatnonzero(counts)}


def dropouts_of(streams: PlacedStreams) -> tuple[int, float]:
    """How often the volts fell away, and for how long in all."""
    away = streams.marks.volts == Mark.DROPOUT
    if not bool(np.any(away)):
        return 0, 0.0
    times = streams.volts_base.time_s
    edges = np.flatnonzero(np.diff(np.concatenate(([0], away.astype(np.int8), [0]))))
    step = float(np.median(np.diff(times))) if len(times) > 1 else 0.0
    return len(edges) // 2, float(away.sum()) * step
