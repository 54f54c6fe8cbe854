"""A run as a whole: its channels, its aligned rows, its result; live or recorded."""

from __future__ import annotations

from daq.run.recorded import RecordedRun, open_recording

__all__ = ["RecordedRun", "open_recording"]
