"""Files that appear whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from daq.draft import clear_stale, draft_of
from daq.errors import OutputError
from daq.locking import writer_alive

__all__ = ["check_free", "output_error", "replacing", "telling", "to_disk"]


@contextmanager
def replacing(path: str | os.PathLike[str], *, force: bool) -> Iterator[Path]:
    """Give the name of a file to write, which takes the place of ``path`` when the body ends well.

    The file to write lies in the same folder, so that the change of names is one
    step. When the body ends in an error, also on Ctrl-C or a full disk, it is
    removed and ``path`` is as it was. One that a killed writer has left is removed
    by the next who writes the same file.

    Args:
        path: the file that is wanted.
        force: whether it may exist already.

    Raises:
        OutputError: it exists and ``force`` is not given, or it can't be written.
            An ``OSError`` in the body becomes one too.
    """
    target = Path(path)
    check_free(target, force=force)
    clear_stale(target)
    draft = draft_of(target)
    try:
        with telling(target):
            yield draft
            to_disk(draft)
            os.replace(draft, target)
    except BaseException:
        with contextlib.suppress(OSError):
            draft.unlink()
        raise


def check_free(path: Path, *, force: bool) -> None:
    """Check that a file may be written there, before the work begins.

    Raises:
        OutputError: it exists and ``force`` is not given, a run is writing it, or it is no ordinary file.
    """
    with telling(path):
        _check_free(path, force=force)


def _check_free(path: Path, *, force: bool) -> None:
    if path.is_dir():
        raise OutputError(f"{path.name or repr(str(path))} is a folder; give the name of a file.")
    if path.exists() and not path.is_file():
        raise OutputError(f"{path.name} is no ordinary file and is not replaced.")
    if writer_alive(path):
        raise OutputError(f"Another run is writing {path.name}; choose another name.")
    if not force and os.path.lexists(path):
        raise OutputError(f"{path.name} exists already; add --force to replace it.")
    if not path.parent.is_dir():
        raise OutputError(f"There is no folder {path.parent} to write {path.name} in.")


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Turn an ``OSError`` in the body into an ``OutputError`` that names the file."""
    try:
        yield
    except OSError as error:
        raise output_error(path, error) from error


def output_error(path: Path, error: OSError) -> OutputError:
    """The sentence for a file that can't be written."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return OutputError(f"The disk is full: {path.name} was not written. Make room and try again.")
    if error.errno == errno.EFBIG:
        return OutputError(f"{path.name} was not written: it would be larger than a file may be here.")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return OutputError(f"You may not write {path.name} in {path.parent}: {error.strerror}.")
    return OutputError(f"{path.name} can't be written: {error.strerror or error}.")


def to_disk(path: Path) -> None:
    """Wait until what stands in the file is on the disk."""
    with path.open("rb") as file:
        os.fsync(file.fileno())
