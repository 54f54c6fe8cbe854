"""Results of recordings that were worked out before, kept in the user's cache folder.

An entry belongs to a recording's content and to this very program: its name is the
digest of both. So nothing can go stale: a recording that was changed, moved or
renamed is another one or the same one by what is in it, whatever its date says, and
another version of the program works everything out anew. Only recordings that were
closed are kept, since what one without an end is (cut off, or going on) depends on
the moment. Without a folder that can be written to, everything is worked out as if
there were no cache; an entry that is not whole is left out of account.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import msgspec

from daq.model.progress import unheard
from daq.recording.known import recording_digest
from tui.shelf.summary import Summary, summarise

__all__ = ["MOST_ENTRIES", "VARIABLE", "ResultCache", "cache_folder"]

VARIABLE = "SPINVOLT_CACHE"
"""Environment variable that names another folder."""
MOST_ENTRIES = 1000
"""Some 2 kB each; those that were not asked for longest go first."""
_KEPT = frozenset({"closed", "changed", "damaged"})
_LARGEST_BYTES = 1 << 20
_SUFFIX = ".result"


def cache_folder() -> Path:
    """The folder "results" in the user's cache folder, or in the one the environment names."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named).expanduser() / "results"
    from platformdirs import user_cache_path

    return user_cache_path("spinvolt", appauthor=False) / "results"


class ResultCache:
    """Summaries that are worked out once."""

    def __init__(self, folder: Path, *, program: bytes | None = None, most: int = MOST_ENTRIES) -> None:
        """Keep results in a folder, which is made when it is needed.

        Args:
            folder: where; of this cache alone.
            program: stands for the program that works results out; None: this one, as it is installed.
            most: so many entries are kept.
        """
        self._folder = folder
        self._program = _this_program() if program is None else program
        self._most = most

    def summary(self, path: Path, progress: Callable[[float], None] = unheard) -> Summary:
        """A recording in short, as :func:`tui.shelf.summary.summarise` gives it, from the cache where it is there."""
        before = _content(path)
        if before is None:
            return summarise(path, progress)
        entry = self._folder / (hashlib.blake2b(self._program + before, digest_size=20).hexdigest() + _SUFFIX)
        known = _read(entry)
        if known is not None:
            return msgspec.structs.replace(known, path=str(path))
        found = summarise(path, progress)
        # One that was written to meanwhile may have been read as neither what it was nor what it is.
        if found.state in _KEPT and _content(path) == before:
            self._keep(entry, found)
        return found

    def _keep(self, entry: Path, summary: Summary) -> None:
        """Write an entry whole or not at all, then leave no more than are to be kept."""
        body = msgspec.json.encode(msgspec.structs.replace(summary, path=""))
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True)
            with tempfile.NamedTemporaryFile(dir=self._folder, delete=False) as file:
                file.write(_digest(body) + b"\n" + body)
            try:
                os.replace(file.name, entry)
            except OSError:
                Path(file.name).unlink(missing_ok=True)
                raise
            self._forget_oldest()

    def _forget_oldest(self) -> None:
        entries = [each for each in os.scandir(self._folder) if each.is_file()]
        entries.sort(key=lambda each: each.stat().st_mtime_ns)
        for each in entries[: max(len(entries) - self._most, 0)]:
            with contextlib.suppress(OSError):
                os.unlink(each.path)


def _read(entry: Path) -> Summary | None:
    """An entry; None where there is none, or none that is whole. One that was asked for counts as new."""
    try:
        with entry.open("rb") as file:
            digest, _, body = file.read(_LARGEST_BYTES).partition(b"\n")
        if digest != _digest(body):
            return None
        found = msgspec.json.decode(body, type=Summary)
        with contextlib.suppress(OSError):
            os.utime(entry)
    except (OSError, RecursionError, msgspec.MsgspecError):
        return None
    return found


def _digest(body: bytes) -> bytes:
    return hashlib.blake2b(body, digest_size=20).hexdigest().encode()


def _content(path: Path) -> bytes | None:
    """The digest of a recording; None where there is none to be read, which the reader then tells in its own words."""
    try:
        return recording_digest(path, "blake2b")
    except OSError:
        return None


def _this_program() -> bytes:
    """Stands for the very code that works results out: which files, how large, how old."""
    import daq

    told = hashlib.blake2b(f"{sys.version} {Path(daq.__file__).parent.as_posix()}".encode())
    for folder in (Path(daq.__file__).parent, Path(__file__).parent):
        for file in sorted(folder.rglob("*.py")):
            state = file.stat()
            told.update(f"{file.name} {state.st_size} {state.st_mtime_ns}\n".encode())
    return told.digest()
