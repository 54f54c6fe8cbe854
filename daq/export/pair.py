"""A file and its description, which take their places together."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from daq.draft import clear_stale, draft_of
from daq.output import check_free, telling, to_disk
from daq.undisturbed import undisturbed

__all__ = ["replacing_pair"]


@contextmanager
def replacing_pair(file: Path, description: Path, *, force: bool) -> Iterator[tuple[Path, Path]]:
    """Give the names of two files to write, which take the places of both when the body ends well.

    An interruption comes before the change of names or after it. At no moment, and so after no kill and no loss of
    power, does a description lie beside a file that it does not describe: the old one goes first and the new one
    comes last.

    Args:
        file: what is described.
        description: of it, in the same folder.
        force: whether they may exist already.

    Raises:
        OutputError: one exists and ``force`` is not given, or can't be written; then both are as they were.
    """
    for each in (file, description):
        check_free(each, force=force)
        clear_stale(each)
    drafts = draft_of(file), draft_of(description)
    try:
        yield drafts
        for each, draft in zip((file, description), drafts, strict=True):
            with telling(each):
                to_disk(draft)
        with undisturbed():
            _take_places(file, description, *drafts)
    except BaseException:
        for draft in drafts:
            with contextlib.suppress(OSError):
                draft.unlink()
        raise


def _take_places(file: Path, description: Path, new_file: Path, new_description: Path) -> None:
    old = draft_of(description)
    with telling(description), contextlib.suppress(FileNotFoundError):
        os.replace(description, old)
    try:
        with telling(file):
            os.replace(new_file, file)
    except BaseException:
        with contextlib.suppress(OSError):
            os.replace(old, description)
        raise
    with contextlib.suppress(OSError):
        old.unlink()
    with telling(description):
        os.replace(new_description, description)
