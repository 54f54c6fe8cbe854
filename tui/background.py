"""A command of ours run beside the screen, as a process of its own, so that nothing on the screen waits for it."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

__all__ = ["Outcome", "free_name", "run_beside"]


class Outcome(NamedTuple):
    """What became of a command."""

    done: bool
    sentence: str
    """What it said last, on standard output where it is done and on standard error where not."""


async def run_beside(arguments: Sequence[str]) -> Outcome:
    """Run ``spinvolt`` with these arguments, to its end; it is ended where the caller is cancelled."""
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-P",
        "-m",
        "tui",
        *arguments,
        stdin=asyncio.subprocess.DEVNULL,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        out, err = await process.communicate()
    except asyncio.CancelledError:
        process.kill()
        await process.wait()
        raise
    done = process.returncode == 0
    words = (out if done else err).decode("utf-8", "replace").strip().splitlines()
    return Outcome(done, words[-1] if words else f"It ended with exit status {process.returncode}.")


def free_name(path: Path, suffix: str) -> Path:
    """A name beside a recording that no file has yet: its own with that suffix, then with a number."""
    wanted, number = path.with_suffix(suffix), 1
    while wanted.exists():
        number += 1
        wanted = path.with_name(f"{path.stem}-{number}{suffix}")
    return wanted
