"""What it costs to import two logs whose clocks have nothing to do with each other, against their length.

``python -m tests.benchmarks.import_cost [HOURS ...]`` (default 0.25 1 4 16). Wanted (issue 7): cost grows no faster
than the work.

The program itself imports and judges; the logs are those of an engine that wanders, one reading a second of each,
their clocks 40 s apart. Start-up, which every run costs alike, is measured by a log of one minute and taken off.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

HOURS = (0.25, 1.0, 4.0, 16.0)
SHIFT_S = 40.0
MOST_SLOPE = 1.1


def main() -> int:
    """Print a row for each length, and how it grew; the exit status is 0 where it never grew faster than the work."""
    hours = [float(word) for word in sys.argv[1:]] or list(HOURS)
    with tempfile.TemporaryDirectory() as name:
        start_s = import_s(Path(name), 60)
        print(f"start-up: {start_s:.2f} s of processor time")
        print("hours | readings | seconds above start-up | microseconds a reading | slope from the row above")
        before: tuple[int, float] | None = None
        met = True
        for each in hours:
            seconds = round(3600 * each)
            took_s = max(import_s(Path(name), seconds) - start_s, 1e-3)
            slope = ""
            if before is not None:
                grown = float(np.log(took_s / before[1]) / np.log(seconds / before[0]))
                slope, met = f"{grown:.2f}", met and grown <= MOST_SLOPE
            print(
                f"{each:g} | {2 * seconds} | {took_s:.2f} | {1e6 * took_s / (2 * seconds):.0f} | {slope}",
                flush=True,
            )
            before = (seconds, took_s)
    return 0 if met else 1


def import_s(folder: Path, seconds: int) -> float:
    """Processor time of one import with its result."""
    rng = np.random.default_rng(seconds)
    t_s = np.arange(float(seconds))
    rpm = np.clip(3300.0 + np.cumsum(rng.normal(0.0, 8.0, seconds)), 2600.0, 3900.0)
    write(folder / "speed.csv", t_s, rpm + rng.normal(0.0, 1.0, seconds), 1)
    write(folder / "volts.csv", t_s + SHIFT_S, rpm / 170.0 + rng.normal(0.0, 0.01, seconds), 2)
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-m", "tui", "import", "--force", str(folder / "run.jsonl")]
    logs = ["ac_voltage=volts.csv", "rotational_speed=speed.csv", "--machine", "nursery-sprayer"]
    subprocess.run([*command, *logs], cwd=folder, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def write(path: Path, t_s: np.ndarray, value: np.ndarray, decimals: int) -> None:
    """A log of two columns."""
    rows = [f"{t:.1f},{v:.{decimals}f}\n" for t, v in zip(t_s, value, strict=True)]
    path.write_text("time_s,value\n" + "".join(rows), encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main())
