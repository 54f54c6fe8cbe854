"""The recording of a run that this program started, followed wherever its capture goes on with it."""

from __future__ import annotations

import time
from pathlib import Path
from typing import TYPE_CHECKING, Self

from daq.errors import OutputError, RecordingError
from tui.escapes import shown_path
from tui.text import clean

if TYPE_CHECKING:
    from daq.capture.launch import CaptureProcess
    from daq.recording.batch import Batch
    from daq.recording.intake import Intake

__all__ = ["OwnSource"]

_BACK_WITHIN_S = 10.0
"""The capture looks after its file each second; a disk that stalls may hold it up."""
_LOOK_AGAIN_S = 0.05


class OwnSource:
    """Follows the file that the capture names. What becomes of a file ends nothing while the capture runs."""

    def __init__(self, capture: CaptureProcess) -> None:
        """Open the recording; one that was removed since it was begun is waited for.

        Raises:
            RecordingError: it is not there and does not come back, or may not be read.
        """
        from daq.recording.follow import FileFollower

        self._capture = capture
        until_s = time.monotonic() + _BACK_WITHIN_S
        while True:
            self._named = capture.path
            try:
                self._source = FileFollower(Path(self._named))
            except RecordingError:
                if (capture.ended and self._named == capture.path) or time.monotonic() > until_s:
                    raise
                time.sleep(_LOOK_AGAIN_S)
            else:
                return

    @property
    def path(self) -> Path:
        """The recording, under the name that it has now."""
        return self._source.path

    @property
    def finished(self) -> bool:
        """Nothing more will come: the file is closed, and the capture says that it is the one."""
        return self._source.finished and self._capture.ended and self._named == self._capture.path

    @property
    def intake(self) -> Intake:
        """What is known so far."""
        return self._source.intake

    @property
    def at_end(self) -> bool:
        """Whether the newest poll gave the last whole line that was there."""
        return self._source.at_end

    @property
    def problems(self) -> list[str]:
        """What was wrong with the part read so far, one sentence each."""
        return self._source.problems

    def go_on(self) -> bool:
        """Change over to the file that the capture has gone on in; True where it has, and can be read.

        Raises:
            RecordingError: it can't be, and the capture has ended.
        """
        named = self._capture.path
        if named == self._named:
            return False
        from daq.recording.follow import FileFollower

        try:
            source = FileFollower(Path(named))
        except RecordingError:
            if self._capture.ended:
                raise
            return False
        self._source.close()
        self._source, self._named = source, named
        return True

    def poll(self) -> Batch:
        """What is new; nothing while the capture has not yet said where it goes on.

        Raises:
            RecordingError: the recording can't be followed, and the capture has ended.
        """
        try:
            return self._source.poll()
        except RecordingError:
            if self._capture.ended and self._named == self._capture.path:
                raise
            from daq.recording.batch import empty_batch

            return empty_batch()

    def put_back(self) -> str:
        """Write a removed recording anew whose capture died before it could; gives a sentence where it was one."""
        if not self._capture.died:
            return ""
        name = self.path.name
        try:
            saved = self._source.save_if_removed()
        except OutputError:
            return (
                f" {clean(name)} had been removed, and could not be written anew: what stood in it is lost."
            )
        return (
            ""
            if saved is None
            else f" {clean(name)} had been removed; what stood in it is in {shown_path(saved)} again."
        )

    def close(self) -> None:
        """Let go of the file; may be called twice."""
        self._source.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc_info: object) -> None:
        self.close()
