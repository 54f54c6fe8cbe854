"""What lies where a job file says that a recording does: its digest, worked out once for each state of a file.

A job file may come from a stranger, and may name anything. The program itself names a recording by its way from the
job's folder, wherever it lies (a drive, the recordings folder), so ways out of it are gone; but what is found there is
read only if it is an ordinary file that begins as a recording. Of anything else out there nothing is told: what is no
recording and what is not there are the same.
"""

from __future__ import annotations

import os
from pathlib import Path

from daq.ordinary import NotOrdinaryError
from daq.recording.known import NoRecordingError, recording_digest

__all__ = ["NO_RECORDING", "RecordingDigests"]

NO_RECORDING = "no recording"
"""In place of the digest of a file in the job's folder that is no recording, or none any more."""

_State = tuple[int, int, int, int, int]


class RecordingDigests:
    """Digests of the recordings that a job file names.

    Args:
        folder: the job file's, without links in it.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._known: dict[_State, str] = {}

    def of_reference(self, name: str) -> str:
        """The digest of the recording by that name, or ``NO_RECORDING``.

        Args:
            name: as it stands in the job file.

        Raises:
            FileNotFoundError: no recording is there, or what is there is none of this job's business.
            OSError: it can't be read; says why.
        """
        path = self._folder / name
        if self._leads_anywhere(name):
            raise FileNotFoundError(name)
        inside = self._inside(path)
        try:
            return self.of_file(path)
        except NoRecordingError as error:
            if inside:
                return NO_RECORDING
            raise FileNotFoundError(name) from error
        except (NotOrdinaryError, IsADirectoryError, PermissionError) as error:
            if inside:
                raise
            raise FileNotFoundError(name) from error

    def of_file(self, path: Path) -> str:
        """The digest of a recording.

        Raises:
            NoRecordingError: it does not begin as one.
            NotOrdinaryError: it is no ordinary file.
            OSError: it can't be read.
        """
        before = _state(path)
        if before in self._known:
            return self._known[before]
        digest = "sha256:" + recording_digest(path).hex()
        if before is not None and _state(path) == before:
            self._known[before] = digest
        return digest

    def _leads_anywhere(self, name: str) -> bool:
        """Whether it is a whole path where the program would have found a way from the job's folder."""
        return (
            os.path.isabs(name)
            and os.path.splitdrive(name)[0].lower() == os.path.splitdrive(self._folder)[0].lower()
        )

    def _inside(self, path: Path) -> bool:
        try:
            return Path(os.path.realpath(path)).is_relative_to(self._folder)
        except (OSError, ValueError):
            return False


def _state(path: Path) -> _State | None:
    """What tells one state of a file from another, whatever it is called."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns, found.st_ctime_ns
