"""spinvolt's core: readings, clock, recording, alignment, rated output, verdict.

``daq.open_recording(path)`` opens a recording; ``.aligned()`` gives the aligned
rows as a pandas DataFrame and ``.result()`` the rated output with its verdict.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from daq.run import RecordedRun, open_recording

__all__ = ["RecordedRun", "open_recording"]


def __getattr__(name: str) -> Any:
    """Load the public names when they are first used, so that ``import daq`` stays quick."""
    if name in __all__:
        from daq import run

        return getattr(run, name)
    raise AttributeError(f"module 'daq' has no attribute {name!r}")
