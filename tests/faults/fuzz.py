"""The fuzzing of all readers: files hurt by rule through the command line, and each reader guided by coverage."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from pathlib import Path

from tests.faults.guided import has_atheris
from tests.faults.memory import BASE_MB, TIMES, costs
from tests.faults.mutations import hurt
from tests.faults.rig import Figure
from tests.faults.strangers import KINDS, Kind, faults_of, seeds

__all__ = ["figures", "fuzz_target"]

_TARGETS = ("decoders", "recording", "card", "cards_folder", "remembered", "csv", "job")
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


def _harm(kind: Kind, files: int, folder: Path) -> list[str]:
    found: list[str] = []
    for seed in range(files):
        rng = random.Random(seed)
        data = hurt(rng.choice(seeds(kind.name)), rng, rng.randint(1, 4))
        for what in faults_of(kind, data, folder):
            found.append(f"{seed}: {what}")
    return found


def figures(folder: Path, *, long: bool) -> list[Figure]:
    """The rows for the table."""
    rows = []
    inner = folder / "in"
    inner.mkdir()
    for kind in KINDS.values():
        files = _LONG_FILES.get(kind.name, 3000) if long else 10
        found = _harm(kind, files, inner)
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
    place = folder / "memory"
    place.mkdir()
    taken = costs(place)
    rows.append(
        Figure(
            "memory of a command on a file of some MB",
            f"{TIMES} x file + {BASE_MB:g} MB",
            ", ".join(f"{one.kind} {one.size_mb:.1f} MB: {one.peak_mb:.0f} MB" for one in taken),
            all(one.within for one in taken),
        )
    )
    return rows
