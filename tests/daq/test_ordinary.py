"""Files that are read to their end: ordinary ones alone, up to the size that they say."""

from __future__ import annotations

import hashlib
import os
import sys
from io import FileIO
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from daq.ordinary import NotOrdinaryError, digest_of, file_digest, open_ordinary

if TYPE_CHECKING:
    from typing_extensions import Buffer

ENDLESS = Path("/proc/self/pagemap")
"""Passes for an ordinary file of no size; its 256 GiB (8 bytes a page) are made up as they are read: proc(5)."""
linux_only = pytest.mark.skipif(not ENDLESS.exists(), reason="needs /proc as Linux has it")


@pytest.mark.parametrize("size", [0, 1, 256 * 1024, 1_000_003])
def test_a_digest_is_that_of_the_whole_file(size: int, tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_bytes(data := bytes(n * n % 251 for n in range(size)))
    assert file_digest(file) == "sha256:" + hashlib.sha256(data).hexdigest()
    with open_ordinary(file) as opened:
        opened.read(7)
        assert digest_of(opened, "blake2b") == hashlib.blake2b(data).digest()


def test_what_is_added_while_it_is_read_is_left_out(tmp_path: Path) -> None:
    file = tmp_path / "grows"
    file.write_bytes(b"x" * 1000)

    class Growing(FileIO):
        def readinto(self, into: Buffer) -> int | None:
            with file.open("ab") as more:
                more.write(b"y" * 1000)
            return super().readinto(into)

    with Growing(file) as opened:
        assert digest_of(opened, "sha256") == hashlib.sha256(b"x" * 1000).digest()


@linux_only
@pytest.mark.parametrize("name", ["/proc/self/pagemap", "/proc/self/mem", "/proc/self/status", "/dev/zero"])
def test_what_the_system_makes_up_is_no_ordinary_file(name: str, tmp_path: Path) -> None:
    (tmp_path / "link").symlink_to(name)
    for path in (Path(name), tmp_path / "link"):
        with pytest.raises(NotOrdinaryError, match="no ordinary file"):
            open_ordinary(path)


@pytest.mark.skipif(sys.platform == "win32", reason="needs named pipes")
def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(NotOrdinaryError, match="no ordinary file"):
        file_digest(tmp_path / "pipe")


def test_folders_and_names_that_are_none_are_told_by_the_reason(tmp_path: Path) -> None:
    with pytest.raises(IsADirectoryError):
        open_ordinary(tmp_path)
    for name in ("gone", "a\0b"):
        with pytest.raises(FileNotFoundError):
            open_ordinary(tmp_path / name)
