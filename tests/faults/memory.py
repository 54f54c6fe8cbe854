"""What a command takes in memory for a file of some megabytes: ``python -m tests.faults.memory FOLDER [KIND ...]``.

The process first does everything on a small file, so that all is imported; then a child of its own for each kind does
it on a large one, and the highest resident memory over that before is what the file cost: pages of numpy and of the
allocator too, and at full speed. ``--hoard`` puts a reader in place that keeps a copy of each value, which must show.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tests.faults.strangers import KINDS, Kind, run_command, seeds

if TYPE_CHECKING:
    from daq.recording.batch import Batch
    from daq.recording.parse import Parsed

__all__ = ["BASE_MB", "TIMES", "Cost", "costs"]

TIMES = 14
BASE_MB = 16.0
"""Memory of a command, at most so many times its file and so many MB: a reading takes 20 bytes in the file and 21 in
columns, which are held once raw and once aligned with what is reckoned from them; the base is for what a plot, an
encoder or a block of the file takes whatever its size."""
_SIZES = {"recording": 3_000_000, "csv": 3_000_000, "job": 2_000_000}
_COMMANDS = {"recording": 1, "csv": 0, "job": 0}
"""Which of the kind's commands."""


class Cost(NamedTuple):
    """What a command took for a large file."""

    kind: str
    size_mb: float
    peak_mb: float

    @property
    def within(self) -> bool:
        """Whether that is what the multiple allows."""
        return self.peak_mb <= self.size_mb * TIMES + BASE_MB


def costs(folder: Path, kinds: Sequence[str] = tuple(_SIZES), *, hoard: bool = False) -> list[Cost]:
    """Measure them in a process of their own.

    Args:
        folder: an empty one.
        kinds: of files.
        hoard: with a recording's reader that keeps copies.
    """
    more = ["--hoard"] if hoard else []
    command = [sys.executable, "-m", "tests.faults.memory", str(folder), *kinds, *more]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-1000:]
    return [Cost(*json.loads(line)) for line in done.stdout.splitlines()]


def _large(kind: str, size: int) -> bytes:
    """A sound file of about that size."""
    if kind == "csv":
        return b"time,volts\n" + b"".join(
            b"%d.%d,%d.%02d\n" % (n // 10, n % 10, 20 + n % 8, n % 100) for n in range(size // 13)
        )
    lines = max(seeds(kind), key=len).rstrip(b"\n").split(b"\n")
    if kind == "job":
        return b"\n".join(lines) + b"\n" + (lines[-1] + b"\n") * (size // len(lines[-1]))
    head = [line for line in lines if line.startswith(b"{") and b'"entry":"close"' not in line]
    rows = (
        b"[0,%d,%d.%02d,0]\n[1,%d,%d,0]"
        % (n * 100_000, 20 + n % 8, n % 100, n * 100_000 + 50_000, 3000 + n % 97 * 10)
        for n in range(size // 42)
    )
    return b"\n".join([*head, *rows]) + b"\n"


def _memory_mb(name: str) -> float:
    found = re.search(rf"{name}:\s*(\d+) kB", Path("/proc/self/status").read_text("ascii"))
    assert found is not None
    return int(found[1]) / 1024


def _measure(kind: Kind, folder: Path) -> Cost:
    data = _large(kind.name, _SIZES[kind.name])
    size = len(data)
    (folder / kind.file).write_bytes(data)
    del data
    Path("/proc/self/clear_refs").write_text("5")  # the peak begins anew: proc(5)
    before_mb = _memory_mb("VmRSS")
    status, _, err = run_command(kind.commands[_COMMANDS[kind.name]], folder)
    assert status == 0, err
    return Cost(kind.name, size / 1e6, _memory_mb("VmHWM") - before_mb)


def _put_hoarder() -> None:
    from daq.recording.intake import Intake

    kept: list[list[bytes]] = []
    plain = Intake.take

    def take(self: Intake, parsed: Parsed, block: memoryview) -> Batch:
        kept.append(bytes(block).split(b","))
        return plain(self, parsed, block)

    Intake.take = take  # type: ignore[method-assign]  # a reader with the fault that is to be seen


def main() -> None:
    """Measure each kind in a child of its own, so that what one leaves behind helps no other."""
    import pandas as pd  # what large files are read with has its price once, and not by the file

    assert pd.__version__
    folder, *words = sys.argv[1:]
    if "--hoard" in words:
        words.remove("--hoard")
        _put_hoarder()
    for name in words or _SIZES:
        kind = KINDS[name]
        place = Path(folder) / name
        place.mkdir()
        (place / kind.file).write_bytes(seeds(name)[0])
        run_command(kind.commands[_COMMANDS[name]], place)
        child = os.fork()
        if not child:
            print(json.dumps(_measure(kind, place)), flush=True)
            os._exit(0)
        if os.waitpid(child, 0)[1]:
            sys.exit(f"{name}: the measurement failed")


if __name__ == "__main__":
    main()
