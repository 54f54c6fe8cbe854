"""Names of files as they are typed: each has a last part, which the sentences about it can name."""

from __future__ import annotations

from pathlib import Path

from daq.errors import UsageError

__all__ = ["file_path", "folder_path"]


def file_path(text: str) -> Path:
    """The path of a file.

    One that ends in no name, such as ".", is a folder: it is given by its own name, so that whoever finds out
    can say what is one.

    Raises:
        UsageError: the name is empty, or the file system's root.
    """
    path = folder_path(text)
    if not path.name:
        raise UsageError(f"'{path}' is a folder; give the name of a file.")
    return path


def folder_path(text: str) -> Path:
    """The path of a folder, with its own name where it has one.

    Raises:
        UsageError: the name is empty.
    """
    if not text:
        raise UsageError("A name is empty where that of a file or folder is needed; give one.")
    path = Path(text)
    return path if path.name and path.name != ".." else path.absolute().resolve()
