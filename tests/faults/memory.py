"""What each command takes in memory for a file of some megabytes: ``python -m tests.faults.memory FOLDER [NAME ...]``.

The process first runs a command on a small file, so that all is imported; then a child of its own runs it on a large
one, and the highest resident memory over that before is what the file cost: pages of numpy and of the allocator too,
and at full speed. What the imports take, some 60 MB with pandas, comes on top, once and not by the file. ``--hoard``
puts a reader in place that keeps a copy of each value, which must show.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from tests.faults.ground import run_command
from tests.faults.strangers import KINDS, Kind, outputs_of, seeds

if TYPE_CHECKING:
    from daq.recording.batch import Batch
    from daq.recording.parse import Parsed

__all__ = ["BASE_MB", "MOST", "NAMES", "TIMES", "Cost", "costs"]

TIMES = {"usual": 11, "shortest": 44, "junk": 44}
BASE_MB = 40.0
"""Memory of a command, at most so many times its file and so many MB. It goes by the readings, not by their letters: a
reading takes 21 bytes in columns, which are held once raw and once aligned with what is reckoned from them. Of usual
lines, some 22 bytes each, that is the smaller multiple; lines of 10 bytes, the shortest that a reading can have in a
recording (4 in a CSV log; 50 a repair in a job file, which begins a round), make it the larger one. Of junk, lines of
one letter, nothing but the number is kept. The base is for what a plot, an encoder or a block of the file takes
whatever its size."""
_MB = 2.2
"""From 2 MB on a recording is read as large ones are."""
_KINDS = ("recording", "report", "listed", "csv", "job", "job page")
_MOST_COMMANDS = {"csv": 1}
"""What comes after the import reads another file."""
_REFUSED = (("csv", "junk"),)
"""What ends at the first such line."""
NAMES = tuple(
    f"{kind}:{n}:{shape}"
    for shape in TIMES
    for kind in _KINDS
    if (kind, shape) not in _REFUSED
    for n in range(len(KINDS[kind].commands[: _MOST_COMMANDS.get(kind)]))
)
"""What can be measured: kind of file, number of the command, shape of the lines."""
MOST = (
    *(f"{name}:shortest" for name in ("recording:2", "recording:4", "csv:0", "job:2")),
    "job:2:junk",
)
"""Those that take most for their kind of file and of work."""

_JUNK = b"x\n"
_REPAIR = b'{"entry":"repair","utc":"20260101T00Z","text":""}\n'
"""The shortest that is a line of a job, and no fault."""


class Cost(NamedTuple):
    """What a command took for a large file."""

    command: str
    shape: str
    size_mb: float
    peak_mb: float

    @property
    def most_mb(self) -> float:
        """What the multiple allows."""
        return self.size_mb * TIMES[self.shape] + BASE_MB

    @property
    def within(self) -> bool:
        """Whether it took no more."""
        return self.peak_mb <= self.most_mb


def costs(
    folder: Path, names: Sequence[str] = NAMES, *, size_mb: float = _MB, hoard: bool = False
) -> list[Cost]:
    """Measure them in a process of their own.

    Args:
        folder: an empty one.
        names: of what is measured; see ``NAMES``.
        size_mb: of the files.
        hoard: with a recording's reader that keeps copies.
    """
    more = ["--hoard"] if hoard else []
    command = [sys.executable, "-m", "tests.faults.memory", str(folder), str(size_mb), *names, *more]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-1000:]
    return [Cost(*json.loads(line)) for line in done.stdout.splitlines()]


def _large(kind: str, shape: str, size: int) -> bytes:
    """A sound file of about that size."""
    return _MAKERS[KINDS[kind].seeds[0] if KINDS[kind].seeds else kind](shape, size)


def _recording(shape: str, size: int) -> bytes:
    lines = max(seeds("recording"), key=len).rstrip(b"\n").split(b"\n")
    head = [line for line in lines if line.startswith(b"{") and b'"entry":"close"' not in line]
    if shape == "junk":
        return b"\n".join(head) + b"\n" + _JUNK * (size // len(_JUNK))
    if shape == "shortest":
        count = size // 10
        rows: Iterable[bytes] = (
            b"[%d,%d,%d,0]" % (n % 2, n * 10 // count, n // 2 % 9 + 1) for n in range(count)
        )
    else:
        rows = (
            b"[0,%d,%d.%02d,0]\n[1,%d,%d,0]"
            % (n * 100_000, 20 + n % 8, n % 100, n * 100_000 + 50_000, 3000 + n % 97 * 10)
            for n in range(size // 45)
        )
    return b"\n".join([*head, *rows]) + b"\n"


def _csv(shape: str, size: int) -> bytes:
    if shape == "shortest":
        return b"t,v\n" + b"".join(b"%d,%d\n" % (n * 40 // size, n % 10) for n in range(size // 4))
    return b"time,volts\n" + b"".join(
        b"%d.%d,%d.%02d\n" % (n // 10, n % 10, 20 + n % 8, n % 100) for n in range(size // 13)
    )


def _job(shape: str, size: int) -> bytes:
    lines = max(seeds("job"), key=len).rstrip(b"\n") + b"\n"
    more = {"usual": lines.splitlines(keepends=True)[-1], "shortest": _REPAIR, "junk": _JUNK}[shape]
    return lines + more * (size // len(more))


_MAKERS: dict[str, Callable[[str, int], bytes]] = {"recording": _recording, "csv": _csv, "job": _job}


def _memory_mb(name: str) -> float:
    found = re.search(rf"{name}:\s*(\d+) kB", Path("/proc/self/status").read_text("ascii"))
    assert found is not None
    return int(found[1]) / 1024


def _measure(kind: Kind, number: int, shape: str, size: int, folder: Path) -> Cost:
    data = _large(kind.name, shape, size)
    size = len(data)
    (folder / kind.file).write_bytes(data)
    del data
    Path("/proc/self/clear_refs").write_text("5")  # the peak begins anew: proc(5)
    before_mb = _memory_mb("VmRSS")
    command = kind.commands[number]
    status, _, err = run_command(command, folder)
    assert status == 0, err
    assert all((folder / name).stat().st_size for name in outputs_of(command))
    return Cost(" ".join(command), shape, size / 1e6, _memory_mb("VmHWM") - before_mb)


def _put_hoarder() -> None:
    from daq.recording.intake import Intake

    kept: list[list[bytes]] = []
    plain = Intake.take

    def take(self: Intake, parsed: Parsed, block: memoryview) -> Batch:
        kept.append(bytes(block).split(b","))
        return plain(self, parsed, block)

    Intake.take = take  # type: ignore[method-assign]  # a reader with the fault that is to be seen


def main() -> None:
    """Measure each in a child of its own, so that what one leaves behind helps no other."""
    import pandas as pd  # what large files are read with has its price once, and not by the file

    assert pd.__version__
    folder, size_mb, *words = sys.argv[1:]
    if "--hoard" in words:
        words.remove("--hoard")
        _put_hoarder()
    for name in words or NAMES:
        kind_name, number, shape = name.split(":")
        kind = KINDS[kind_name]
        place = Path(folder) / name.replace(":", "-")
        place.mkdir()
        (place / kind.file).write_bytes(seeds(name.partition(":")[0])[0])
        run_command(kind.commands[int(number)], place)
        for output in outputs_of(kind.commands[int(number)]):
            (place / output).unlink(missing_ok=True)
        child = os.fork()
        if not child:
            print(
                json.dumps(_measure(kind, int(number), shape, int(float(size_mb) * 1e6), place)), flush=True
            )
            os._exit(0)
        if os.waitpid(child, 0)[1]:
            sys.exit(f"{name}: the measurement failed")


if __name__ == "__main__":
    main()
