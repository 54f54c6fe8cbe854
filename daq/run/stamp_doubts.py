"""Logs whose stamps are coarser than the pace of their readings: how they were placed, or that they can't be."""

from __future__ import annotations

from daq.align.streams import PlacedStreams
from daq.align.timebase import TimeBase

__all__ = ["stamp_doubts", "stamp_notes"]


def stamp_doubts(streams: PlacedStreams) -> tuple[str, ...]:
    """Sentences that forbid a verdict: readings share stamps, and where between them they belong can't be told."""
    return tuple(
        f"The time stamps of the {whose} readings come in steps of {base.coarse_step_s:g} s, several readings share "
        "one, and they keep no steady pace by which they could be placed, or some are missing: nothing is judged. "
        "Have the logger write its times to a tenth of a second or finer, or take one reading for each step."
        for whose, base in _coarse(streams)
        if base.period_s is None
    )


def stamp_notes(streams: PlacedStreams) -> tuple[str, ...]:
    """How readings that share a stamp were placed."""
    return tuple(
        f"The time stamps of the {whose} readings come in steps of {base.coarse_step_s:g} s and several readings share "
        f"one: they were spread evenly, {base.period_s:.3g} s apart. Finer stamps would show the lag better."
        for whose, base in _coarse(streams)
        if base.period_s is not None
    )


def _coarse(streams: PlacedStreams) -> list[tuple[str, TimeBase]]:
    both = (("volts", streams.volts_base), ("speed", streams.speed_base))
    return [(whose, base) for whose, base in both if base.coarse_step_s > 0.0]
