"""The usual time between the readings of one channel: by the newest of them, before that by its card."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from daq.recording.entries import ChannelEntry
from daq.run.channels import card_of

__all__ = ["Pace"]

_NEWEST = 9
"""Readings that are looked at: the median of eight intervals outlives a gap and follows a dial that was turned."""


class Pace:
    """How often one channel's readings come."""

    def __init__(self, entry: ChannelEntry) -> None:
        self._card_s = _card_interval_s(entry)
        self._newest_s: list[float] = []

    def note(self, time_s: NDArray[np.float64]) -> None:
        """Readings came; their times, of shape (n,), in seconds of the session."""
        self._newest_s = [*self._newest_s, *time_s[-_NEWEST:].tolist()][-_NEWEST:]

    @property
    def usual_s(self) -> float | None:
        """Usual time between two readings; None before the second where the card says nothing."""
        times_s = self._newest_s
        if len(times_s) < 2:
            return self._card_s
        intervals_s = sorted(after - before for before, after in zip(times_s, times_s[1:], strict=False))
        return intervals_s[len(intervals_s) // 2]


def _card_interval_s(entry: ChannelEntry) -> float | None:
    """By the channel's answer, or by how often the card has it asked."""
    card = card_of(entry)
    if card is not None and card.response.interval_s is not None:
        return card.response.interval_s
    settings = entry.card.get("settings")
    for key in ("poll_s", "interval_s"):
        given = settings.get(key) if isinstance(settings, dict) else None
        if isinstance(given, int | float) and 0 < given <= 3600:
            return float(given)
    return None
