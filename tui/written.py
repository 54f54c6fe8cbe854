"""A command that is interrupted when its files are in place says so, and not that it was stopped before."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from tui.interrupts import Interruptions

__all__ = ["writing"]


def writing(paths: Sequence[Path], work: Callable[[], int], written: str) -> int:
    """Do what writes files, each of which appears whole or not at all.

    Args:
        paths: the files.
        work: writes them and says so; gives the exit status.
        written: the sentence for where it was interrupted after all of them were new.

    Raises:
        KeyboardInterrupt: it was interrupted; with that sentence, or with none.
    """
    before = [_identity(path) for path in paths]
    try:
        status = work()
        sys.stdout.flush()
        _end()
    except KeyboardInterrupt as error:
        after = [_identity(path) for path in paths]
        if any(new is None or new == old for old, new in zip(before, after, strict=True)):
            raise
        raise KeyboardInterrupt(written) from error
    return status


def _identity(path: Path) -> tuple[int, int] | None:
    """Which file has the name. A new one is written while the old one is there, and so is another."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _end() -> None:
    """All is done: a further interruption is of no use."""
    taken_by = getattr(signal.getsignal(signal.SIGINT), "__self__", None)
    if isinstance(taken_by, Interruptions):
        taken_by.settle()
