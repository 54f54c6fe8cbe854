"""A recording that is opened when its first lines are asked for, so that a screen need not wait for that.

Opening takes imports that would double the time to the first frame.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from pathlib import Path
from typing import TYPE_CHECKING, Generic, Protocol, TypeVar

if TYPE_CHECKING:
    from daq.recording.batch import Batch

__all__ = ["Late"]


class _Source(Protocol):
    @property
    def finished(self) -> bool: ...

    @property
    def problems(self) -> list[str]: ...

    def poll(self) -> Batch: ...

    def close(self) -> None: ...


Opened = TypeVar("Opened", bound=_Source)


class Late(ABC, Generic[Opened]):
    """What any source gives, before and after it is opened."""

    def __init__(self, path: Path) -> None:
        """Remember the recording.

        Raises:
            RecordingError: there is no such file.
        """
        self._path = path
        self._source: Opened | None = None
        if not path.is_file():
            self._opened()

    @abstractmethod
    def _open(self) -> Opened:
        """Open it, with whatever that has to import."""

    def _opened(self) -> Opened:
        if self._source is None:
            self._source = self._open()
        return self._source

    @property
    def finished(self) -> bool:
        """Nothing more will come."""
        return self._source is not None and self._source.finished

    @property
    def problems(self) -> list[str]:
        """What was wrong with the part read so far, one sentence each."""
        return [] if self._source is None else self._source.problems

    def poll(self) -> Batch:
        """What is new.

        Raises:
            RecordingError: it may not be read, is no recording, or was cut, removed or replaced meanwhile.
        """
        return self._opened().poll()

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        if self._source is not None:
            self._source.close()
