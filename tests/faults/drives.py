"""Small drives made for the purpose: one that can be filled, one that can be stalled. Both need root on Linux."""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

__all__ = ["StallingDrive", "WHY_NOT", "may_mount", "read_only_folder", "small_drive", "stalling_drive"]

WHY_NOT = "mounting a file system needs root on Linux"


def may_mount() -> bool:
    """Whether this process may mount file systems (tried out, since a container may forbid it to root)."""
    if sys.platform != "linux" or os.geteuid() != 0:
        return False
    tried = subprocess.run(
        ["unshare", "--mount", "mount", "-t", "tmpfs", "tmpfs", "/mnt"], capture_output=True, check=False
    )
    return tried.returncode == 0


@contextlib.contextmanager
def small_drive(folder: Path, size_kb: int) -> Iterator[Path]:
    """A file system of that size."""
    place = folder / "small"
    with _mounted(place, "-t", "tmpfs", "-o", f"size={size_kb}k", "tmpfs"):
        yield place


@contextlib.contextmanager
def read_only_folder(folder: Path) -> Iterator[Path]:
    """A folder that nobody may write in, not even root."""
    place = folder / "read-only"
    with _mounted(place, "-t", "tmpfs", "-o", "ro", "tmpfs"):
        yield place


class StallingDrive:
    """A file system that can be made to take nothing for a while: who writes then waits."""

    def __init__(self, place: Path) -> None:
        self.place = place

    @contextlib.contextmanager
    def stalled(self) -> Iterator[None]:
        """Take nothing while the block runs."""
        _run("fsfreeze", "--freeze", str(self.place))
        try:
            yield
        finally:
            _run("fsfreeze", "--unfreeze", str(self.place))


@contextlib.contextmanager
def stalling_drive(folder: Path) -> Iterator[StallingDrive]:
    """A drive of 16 MB with a file system of its own, on a file."""
    image = folder / "drive.img"
    with image.open("wb") as file:
        file.truncate(16 << 20)
    _run("mkfs.ext4", "-q", "-F", str(image))
    place = folder / "drive"
    with _mounted(place, "-o", "loop", str(image)):
        yield StallingDrive(place)


@contextlib.contextmanager
def _mounted(place: Path, *how: str) -> Iterator[None]:
    place.mkdir()
    _run("mount", *how, str(place))
    try:
        yield
    finally:
        _run("umount", str(place))


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)
