"""A log's bytes: where they can't be had, the log is named."""

from __future__ import annotations

import os
from io import RawIOBase
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import ImportLogError
from daq.ordinary import NotOrdinaryError, open_ordinary

if TYPE_CHECKING:
    from typing_extensions import Buffer

__all__ = ["LogBytes"]


class LogBytes(RawIOBase):
    """A log's bytes; where they can't be had the log is named, for beside it the recording is being written.

    Args:
        path: the log.
        name: what it is called in sentences.

    Raises:
        ImportLogError: it can't be opened, or is no ordinary file.
    """

    def __init__(self, path: Path, name: str) -> None:
        self._name = name
        try:
            self._file = open_ordinary(path)
        except (NotOrdinaryError, IsADirectoryError) as error:
            raise ImportLogError(f"{name} is no ordinary file.") from error
        except OSError as error:
            raise _not_readable(name, error) from error

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._file.fileno()

    def readinto(self, into: Buffer) -> int | None:
        """As a file's.

        Raises:
            ImportLogError: the file can't be read.
        """
        try:
            return self._file.readinto(into)
        except OSError as error:
            raise _not_readable(self._name, error) from error

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return self._file.seek(offset, whence)

    def close(self) -> None:
        if hasattr(self, "_file"):  # else it could not be opened
            self._file.close()
        super().close()


def _not_readable(name: str, error: OSError) -> ImportLogError:
    return ImportLogError(f"{name} can't be read: {error.strerror or error}.")
