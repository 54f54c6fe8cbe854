"""A recording that is opened when its first lines are asked for, so that a screen need not wait for that."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from daq.recording.batch import Batch
    from daq.recording.follow import FileFollower

__all__ = ["LateSource"]


class LateSource:
    """Follows a recording; opening it takes imports that would double the time to the first frame."""

    def __init__(self, path: Path) -> None:
        """Remember the recording.

        Raises:
            RecordingError: there is no such file.
        """
        self._path = path
        self._source: FileFollower | None = None
        if not path.is_file():
            self._opened()

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._path if self._source is None else self._source.path

    @property
    def finished(self) -> bool:
        """Nothing more will come."""
        return self._source is not None and self._source.finished

    @property
    def problems(self) -> list[str]:
        """What was wrong so far, one sentence each."""
        return [] if self._source is None else self._source.problems

    def being_written(self) -> bool | None:
        """Whether a writer has the file; None where this can't be known, or not yet."""
        return None if self._source is None else self._source.being_written()

    def poll(self) -> Batch:
        """What is new.

        Raises:
            RecordingError: it is no recording, or was cut, removed or replaced meanwhile.
        """
        return self._opened().poll()

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        if self._source is not None:
            self._source.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _opened(self) -> FileFollower:
        if self._source is None:
            from daq.recording.follow import FileFollower

            self._source = FileFollower(self._path)
        return self._source
