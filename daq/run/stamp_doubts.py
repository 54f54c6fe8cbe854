"""Readings whose stamps do not say when they were taken: how they were placed, or that they can't be."""

from __future__ import annotations

import numpy as np

from daq.align.marks import Mark
from daq.align.streams import PlacedStreams
from daq.align.timebase import TimeBase

__all__ = ["stamp_doubts", "stamp_notes"]


def stamp_doubts(streams: PlacedStreams) -> tuple[str, ...]:
    """Sentences that forbid a verdict: readings share stamps, and where between them they belong can't be told."""
    coarse = tuple(
        f"The time stamps of the {whose} readings come in steps of {base.coarse_step_s:g} s, several readings share "
        "one, and they keep no steady pace by which they could be placed, or some are missing: nothing is judged. "
        "Have the logger write its times to a tenth of a second or finer, or take one reading for each step."
        for whose, base in _coarse(streams)
        if base.period_s is None
    )
    return coarse + tuple(
        f"The {whose} readings arrive several at once, about every {base.burst_s:.2g} s, and keep no steady pace by "
        "which they could be placed, or some are missing: when each was taken isn't known, so nothing is judged. Set "
        "the instrument to send each reading as it is taken, or record fewer readings, and repeat."
        for whose, base in _bases(streams)
        if base.burst_s > 0.0 and base.period_s is None
    )


def stamp_notes(streams: PlacedStreams) -> tuple[str, ...]:
    """How readings were placed whose stamps do not say it."""
    shared = tuple(
        f"The time stamps of the {whose} readings come in steps of {base.coarse_step_s:g} s and several readings share "
        f"one: they were spread evenly, {base.period_s:.3g} s apart. Finer stamps would show the lag better."
        for whose, base in _coarse(streams)
        if base.period_s is not None
    )
    together = tuple(
        f"The {whose} readings arrive several at once, about every {base.burst_s:.2g} s: they were spread back evenly, "
        f"{base.period_s:.3g} s apart. Sent one by one they would show the lag better."
        for whose, base in _bases(streams)
        if base.burst_s > 0.0 and base.period_s is not None
    )
    return shared + together + _repeated(streams)


def _repeated(streams: PlacedStreams) -> tuple[str, ...]:
    marks = (
        ("meter", streams.volts_base, streams.marks.volts),
        ("tach", streams.speed_base, streams.marks.speed),
    )
    return tuple(
        f"The {whose} was read faster than it measures, which is once in {base.period_s:.2g} s: a value that only "
        "repeats the one before counts once."
        for whose, base, mark in marks
        if base.period_s is not None and bool(np.any(mark == Mark.REPEATED))
    )


def _coarse(streams: PlacedStreams) -> list[tuple[str, TimeBase]]:
    return [(whose, base) for whose, base in _bases(streams) if base.coarse_step_s > 0.0]


def _bases(streams: PlacedStreams) -> tuple[tuple[str, TimeBase], ...]:
    return ("volts", streams.volts_base), ("speed", streams.speed_base)
