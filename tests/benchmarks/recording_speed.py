"""What opening a recording and exporting it cost, beside the same numbers through pandas.

Run as ``python -m tests.benchmarks.recording_speed [MILLIONS]``. Wanted (issue 7): opening and aligning
ten million readings in at most 3 times ``pandas.read_csv`` of the same numbers, with a peak of memory
under 3 times the columns; writing the aligned CSV in at most the time of pandas' own ``to_csv``.
Each measurement runs in a process of its own.
"""

from __future__ import annotations

import hashlib
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from daq.export.aligned_csv import export_aligned
from daq.model.quantity import Quantity
from daq.recording.entries import ChannelEntry, ClockEntry, CloseEntry, Line, MachineEntry, SessionEntry
from daq.recording.lines import encode_lines
from daq.recording.reader import read_recording

SESSION = SessionEntry(program="benchmark", started_utc="2026-03-01T08:00:00Z", source="run")
_BLOCK = 250_000
COLUMN_BYTES = 24
"""Of one reading: channel, time and value as three columns of 8 bytes."""
_REPEATS = 3


def write_inputs(folder: Path, count: int) -> None:
    """The same readings as a recording and as plain CSV: volts and speed in turn, ten a second each.

    The throttle goes slowly up and down, the volts follow it and come 0.25 s late.
    """
    rng = np.random.default_rng(1)
    even = 50_000_000 * np.arange(count, dtype=np.int64)
    t_ns = even + rng.integers(0, 5_000_000, count)

    def speed_rpm(t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray(3300 + 400 * np.sin(0.21 * t_s) + 50 * np.sin(1.3 * t_s))

    volts = np.round(speed_rpm(even / 1e9 - 0.25) * 24 / 3600 + rng.normal(0, 0.01, count), 2)
    value = np.where(np.arange(count) % 2 == 0, volts, np.round(speed_rpm(even / 1e9), 1))
    digest = hashlib.sha256()
    with (folder / "run.jsonl").open("wb") as recording, (folder / "run.csv").open("wb") as plain:

        def put(data: bytes) -> None:
            recording.write(data)
            digest.update(data)

        put(encode_lines([SESSION, *head_lines((Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED))]))
        for start in range(0, count, _BLOCK):
            here = slice(start, start + _BLOCK)
            rows = zip(range(start, start + _BLOCK), t_ns[here].tolist(), value[here].tolist(), strict=False)
            fields = [f"{i % 2},{t // 1000},{v},0" for i, t, v in rows]
            plain.write(("\n".join(fields) + "\n").encode())
            put(("[" + "]\n[".join(fields) + "]\n").encode())
            put(encode_lines([ClockEntry(t_ns=int(t_ns[here][-1]), utc="2026-03-01T08:00:00Z")]))
        put_close = CloseEntry(
            t_ns=int(t_ns[-1]), reason="end", readings=count, digest="sha256:" + digest.hexdigest()
        )
        recording.write(encode_lines([put_close]))


def head_lines(quantities: Sequence[Quantity]) -> list[Line]:
    """A machine, and a channel of an instrument of its own for each quantity."""
    machine = {"name": "bench", "title": "", "rated_speed_rpm": 3600.0, "minimum_ac_voltage_v": 20.0}
    lines: list[Line] = [MachineEntry(card=machine)]
    for channel, quantity in enumerate(quantities):
        lines.append(
            ChannelEntry(
                channel=channel,
                quantity=quantity,
                unit=quantity.unit,
                instrument=f"instrument-{channel}",
                address="none",
                card={},
                card_channel=0,
            )
        )
    return lines


def open_recording(folder: Path) -> None:
    recording = read_recording(folder / "run.jsonl")
    if not recording.complete or len(recording.columns(0).t_ns) + len(recording.columns(1).t_ns) == 0:
        raise SystemExit("the benchmark's own recording did not come back")


def open_csv(folder: Path) -> None:
    types = {"channel": "int64", "t_ns": "int64", "value": "float64", "quality": "int64"}
    pd.read_csv(folder / "run.csv", header=None, names=list(types), dtype=types)


def aligned_frame(rows: int) -> pd.DataFrame:
    """Rows with the columns of an aligned CSV."""
    rng = np.random.default_rng(2)
    time_s = np.cumsum(rng.integers(90_000_000, 110_000_000, rows)) / 1e9
    numbers = {name: 20 + rng.normal(0, 1, rows) for name in ("speed_rpm", "voltage_V", "rated_voltage_V")}
    return pd.DataFrame(
        {
            "time_s": time_s,
            "utc": pd.Timestamp("2026-03-01T08:00:00Z") + pd.to_timedelta(time_s, unit="s"),
            **numbers,
            "u_rated_voltage_V": np.where(rng.random(rows) < 0.1, np.nan, 0.05),
            "steady": (rng.random(rows) < 0.5).astype(np.int8),
            "in_window": np.ones(rows, np.int8),
            "quality": rng.choice(["good", "speed unknown", "overload"], rows),
        }
    )


def export_ours(folder: Path) -> None:
    export_aligned(pd.read_pickle(folder / "frame.pickle"), folder / "ours.csv", {}, force=True)


def export_pandas(folder: Path) -> None:
    pd.read_pickle(folder / "frame.pickle").to_csv(folder / "pandas.csv", index=False)


def measured(work: Callable[[Path], None], folder: Path) -> tuple[float, float]:
    """The least seconds and the largest growth of the peak of memory, MB, of some runs, each in a new process."""
    runs = []
    for _ in range(_REPEATS):
        with get_context("spawn").Pool(1) as pool:
            runs.append(pool.apply(_measure, (work, folder)))
    return min(run[0] for run in runs), max(run[1] for run in runs)


def _measure(work: Callable[[Path], None], folder: Path) -> tuple[float, float]:
    resident = int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1e6
    begin = time.perf_counter()
    work(folder)
    seconds = time.perf_counter() - begin
    return seconds, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3 - resident


def main() -> int:
    """Print the figures; the exit status is 0 when all is as wanted."""
    count = int(float(sys.argv[1] if len(sys.argv) > 1 else 10) * 1e6)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_inputs(folder, count)
        ours, csv = measured(open_recording, folder), measured(open_csv, folder)
        columns_mb = count * COLUMN_BYTES / 1e6
        print(f"open {count} readings: {ours[0]:.2f} s, {ours[0] / csv[0]:.2f} x read_csv ({csv[0]:.2f} s)")
        print(
            f"  peak {ours[1]:.0f} MB, {ours[1] / columns_mb:.2f} x the columns (read_csv: {csv[1]:.0f} MB)"
        )
        opens = ours[0] <= 3 * csv[0] and ours[1] < 3 * columns_mb
        rows = max(1, count // 10)
        aligned_frame(rows).to_pickle(folder / "frame.pickle")
        ours, theirs = measured(export_ours, folder), measured(export_pandas, folder)
        print(f"export {rows} rows: {ours[0]:.2f} s, {ours[0] / theirs[0]:.2f} x to_csv ({theirs[0]:.2f} s)")
        return 0 if opens and ours[0] <= theirs[0] else 1


if __name__ == "__main__":
    sys.exit(main())
