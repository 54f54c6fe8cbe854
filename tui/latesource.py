"""A recording that is followed, and opened when its first lines are asked for."""

from __future__ import annotations

import contextlib
import math
import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

from daq.errors import RecordingError
from tui.late import Late

if TYPE_CHECKING:
    from daq.recording.batch import Batch
    from daq.recording.entries import SessionEntry
    from daq.recording.follow import FileFollower

__all__ = ["LateSource"]

_PATIENCE_S = 3.0
"""A capture looks at its file each second, and then goes on in another."""
_SUCCESSOR_WITHIN_S = 0.5
"""A capture leaves a file when it has made the next one, and says in that at once where it comes from."""
_LOOK_AGAIN_S = 1.0
"""Between looks for the run of an empty file: the files beside it are read for that."""


class LateSource(Late["FileFollower"]):
    """Follows a recording, and its run in another file where something else has changed this one.

    Attributes:
        left: names of the files that were left so, oldest first.
    """

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.left: tuple[str, ...] = ()
        self._looked_s = -math.inf
        self._lost_since_s: float | None = None
        self._left_since_s: float | None = None
        """When it was first seen that nobody writes the file, which was never closed."""
        self._looked_enough = False
        """For where its run goes on then."""

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._path if self._source is None else self._source.path

    def being_written(self) -> bool | None:
        """Whether a writer has the file; None where this can't be known, or not yet."""
        if self._source is None or self._lost_since_s is not None:
            return None
        return None if self._may_go_on(self._source) else self._source.being_written()

    def poll(self) -> Batch:
        """What is new; nothing while it is looked for where the run goes on.

        Raises:
            RecordingError: it is no recording, or was cut, removed or replaced, and its run goes on nowhere.
        """
        try:
            return super().poll()
        except RecordingError:
            now_s = time.monotonic()
            self._lost_since_s = now_s if self._lost_since_s is None else self._lost_since_s
            if self._source is None or self._source.intake.session is None:
                raise
            if now_s - self._lost_since_s > _PATIENCE_S:
                raise
            from daq.recording.batch import empty_batch

            return empty_batch()

    def go_on(self) -> bool:
        """Change over to the file in which the run goes on; True where this one is lost and that one found."""
        if self._source is None:
            return False
        found = self._found(self._source)
        if found is None:
            return False
        from daq.recording.follow import FileFollower

        with contextlib.suppress(RecordingError):
            source = FileFollower(found)
            self.left = (*self.left, self._source.path.name)
            self._source.close()
            self._source, self._lost_since_s = source, None
            self._left_since_s, self._looked_enough = None, False
            return True
        return False

    def _found(self, source: FileFollower) -> Path | None:
        """Where the run goes on; also that of a file which was emptied before it was looked at."""
        from daq.recording.successor import successor, successor_by_event

        session = source.intake.session
        if session is not None and self._lost_since_s is not None:
            return successor(source.path, session)
        if session is not None:
            return self._found_of_left(source, session)
        now_s = time.monotonic()
        if now_s - self._looked_s < _LOOK_AGAIN_S or not _is_empty(source.path) or source.being_written():
            return None
        self._looked_s = now_s
        return successor_by_event(source.path)

    def _may_go_on(self, source: FileFollower) -> bool:
        """Whether nobody writes the file or has closed it, and it was not yet looked long enough for its run."""
        begun_and_open = source.intake.session is not None and source.intake.close is None
        return begun_and_open and not self._looked_enough and source.being_written() is False

    def _found_of_left(self, source: FileFollower, session: SessionEntry) -> Path | None:
        from daq.recording.successor import went_on_in

        if not self._may_go_on(source):
            return None
        now_s = time.monotonic()
        self._left_since_s = now_s if self._left_since_s is None else self._left_since_s
        self._looked_enough = now_s - self._left_since_s > _SUCCESSOR_WITHIN_S
        return went_on_in(source.path, session)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()

    def _open(self) -> FileFollower:
        from daq.recording.follow import FileFollower

        return FileFollower(self._path)


def _is_empty(path: Path) -> bool:
    try:
        return path.stat().st_size == 0
    except OSError:
        return False
