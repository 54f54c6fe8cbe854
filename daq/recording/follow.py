"""Sources of batches: the front of :mod:`daq.recording` for whoever shows or computes."""

from __future__ import annotations

from daq.recording.batch import Batch, Source
from daq.recording.follower import FileFollower
from daq.recording.replay import Replay

__all__ = ["Batch", "FileFollower", "Replay", "Source"]
