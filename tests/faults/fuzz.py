"""The fuzzing of all readers: files hurt by rule through the command line, and each reader guided by coverage."""

from __future__ import annotations

import random
import re
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from tests.faults.guided import has_atheris
from tests.faults.memory import BASE_MB, TIMES, costs
from tests.faults.mutations import hurt
from tests.faults.rig import Figure
from tests.faults.strangers import KINDS, Kind, faults_of, seeds

__all__ = ["chosen_seed", "figures", "fuzz_target", "hurt_file"]

_TARGETS = ("decoders", "recording", "card", "cards_folder", "remembered", "csv", "job")
_SHORT_MB, _LONG_MB = (2.2,), (2.2, 12.0)
_LONG_FILES = {"recording": 1500, "report": 100, "job page": 100, "listed": 500}


def fuzz_target(name: str, seconds: int, folder: Path) -> tuple[int, str]:
    """Fuzz a reader in a process of its own; gives inputs tried and what broke it, or nothing."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.guided", name, str(seconds), str(folder)],
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
    )
    tried = re.findall(r"stat::number_of_executed_units:\s*(\d+)", done.stderr)
    broke = "" if done.returncode == 0 else done.stderr[-1500:]
    return int(tried[-1]) if tried else 0, broke


def chosen_seed(given: int | None, *, long: bool, now_s: int) -> int:
    """Which files are drawn: those that were asked for; else a long run has new ones, and a short one always the same.

    Args:
        given: what an earlier run has printed.
        long: whether it is a long run.
        now_s: by the clock.
    """
    if given is not None:
        return given
    return now_s if long else 0


def hurt_file(kind: str, seed: int, number: int) -> bytes:
    """One of a run's files: the same for the same numbers, and another in a run of another seed."""
    rng = random.Random(f"{kind} {seed} {number}")
    return hurt(rng.choice(seeds(kind)), rng, rng.randint(1, 4))


def _harm(kind: Kind, seed: int, files: int, folder: Path) -> list[str]:
    return [
        f"file {number}: {what}"
        for number in range(files)
        for what in faults_of(kind, hurt_file(kind.name, seed, number), folder)
    ]


def figures(folder: Path, *, long: bool, seed: int | None = None) -> list[Figure]:
    """The rows for the table.

    Args:
        folder: to work in.
        long: as long as the goals say.
        seed: of an earlier long run, to try its hurt files again.
    """
    rows = []
    seed = chosen_seed(seed, long=long, now_s=int(time.time()))
    print(f"(hurt files of --seed {seed})", flush=True)
    inner = folder / "in"
    inner.mkdir()
    for kind in KINDS.values():
        files = _LONG_FILES.get(kind.name, 3000) if long else 10
        found = _harm(kind, seed, files, inner)
        rows.append(
            Figure(
                f"{files} hurt files ({kind.name}) through the command line: faults",
                "0",
                f"{len(found)}{f', the first: {found[0][:200]}' if found else ''}",
                not found,
            )
        )
    how = "guided by coverage (atheris)" if has_atheris() else "blind (no atheris here)"
    for name in _TARGETS:
        seconds = 600 if long else 5
        tried, broke = fuzz_target(name, seconds, folder)
        rows.append(
            Figure(
                f"{name}: {seconds} s of fuzzing, {how}; faults, inputs over 1 s",
                "0",
                f"{'1: ' + broke[-300:] if broke else 0} of {tried} inputs",
                not broke and tried > 0,
            )
        )
    return [*rows, *_memory(folder, _LONG_MB if long else _SHORT_MB)]


def _memory(folder: Path, sizes_mb: Sequence[float]) -> list[Figure]:
    """A row for each size of file and shape of its lines, with the command that takes most."""
    rows = []
    for size_mb in sizes_mb:
        place = folder / f"memory-{size_mb:g}"
        place.mkdir()
        taken = costs(place, size_mb=size_mb)
        for shape, times in TIMES.items():
            alike = [one for one in taken if one.shape == shape]
            most = max(alike, key=lambda one: one.peak_mb)
            rows.append(
                Figure(
                    f"memory of {len(alike)} commands on files of {size_mb:g} MB, {shape} lines: the most",
                    f"{times} x file + {BASE_MB:g} MB",
                    f"{most.peak_mb:.0f} MB of {most.most_mb:.0f}, by {most.command.split()[0]}",
                    all(one.within for one in alike),
                )
            )
    return rows
