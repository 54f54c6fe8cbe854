"""Where recordings go when nobody says where."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path

from daq.errors import OutputError

__all__ = ["FOLDER_VARIABLE", "new_recording_path", "recordings_folder"]

FOLDER_VARIABLE = "SPINVOLT_RECORDINGS"
"""Environment variable that names another folder."""


def recordings_folder() -> Path:
    """The folder "spinvolt" among the user's documents, or the one the environment names."""
    named = os.environ.get(FOLDER_VARIABLE)
    if named:
        return Path(named).expanduser()
    from platformdirs import user_documents_path

    return user_documents_path() / "spinvolt"


def new_recording_path(now: datetime, folder: Path | None = None) -> Path:
    """A path for a new recording, named after the local time; the folder is made where it is missing.

    Raises:
        OutputError: the folder can't be made.
    """
    folder = recordings_folder() if folder is None else folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"The recordings folder {folder} can't be made: {error.strerror}; name a file with --out."
        ) from error
    stem = f"spinvolt-{now:%Y%m%d-%H%M%S}"
    path, number = folder / f"{stem}.jsonl", 1
    while path.exists():
        number += 1
        path = folder / f"{stem}-{number}.jsonl"
    return path
