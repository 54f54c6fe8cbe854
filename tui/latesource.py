"""A recording that is followed, and opened when its first lines are asked for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Self

from tui.late import Late

if TYPE_CHECKING:
    from daq.recording.follow import FileFollower

__all__ = ["LateSource"]


class LateSource(Late["FileFollower"]):
    """Follows a recording."""

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._path if self._source is None else self._source.path

    def being_written(self) -> bool | None:
        """Whether a writer has the file; None where this can't be known, or not yet."""
        return None if self._source is None else self._source.being_written()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _open(self) -> FileFollower:
        from daq.recording.follow import FileFollower

        return FileFollower(self._path)
