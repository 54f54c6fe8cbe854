"""What a recorded run costs against its size: opened, aligned and judged, exported; time and memory.

Run as ``python -m tests.benchmarks.run_cost [MILLIONS]``. Wanted (issue 7): ten million readings opened and
aligned in at most 3 times ``pandas.read_csv`` of the same numbers with a peak of memory under 3 times the
columns, the result within twice that, export at most the time of pandas' own ``to_csv`` (of the same rows; the
time of opening and aligning is told with it), and cost that grows linearly within 10 %. "aligned" is all that makes
rows of volts and speed: clocks placed, false readings marked, the lag found, the kernel. Times are the least of
some runs in processes of their own, memory is the most; ``merge_asof`` with ``to_csv`` and ``numpy.interp`` stand
beside. The exit status tells whether the largest size meets what is wanted.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from daq.align.marks import Mark
from daq.model.progress import unheard
from daq.rated.instrument_limits import InstrumentLimits
from daq.run.analysis import _aligned
from daq.run.recorded import open_recording
from tests.benchmarks.recording_speed import (
    COLUMN_BYTES,
    export_ours,
    export_pandas,
    measured,
    open_csv,
    write_inputs,
)

WANTED = {"aligned": 3.0, "judged": 6.0}
"""Times ``pandas.read_csv`` of the same numbers."""
OURS = ("opened", "aligned", "judged", "exported")
"""Whose cost must not grow faster than the run."""
MOST_COLUMNS = 3.0
MOST_SLOPE = 1.1
_TYPES = {"channel": "int64", "t": "int64", "value": "float64", "quality": "int64"}


def opened(folder: Path) -> None:
    """The recording alone."""
    if not open_recording(folder / "run.jsonl").recording.complete:
        raise SystemExit("the benchmark's own recording did not come back")


def aligned(folder: Path) -> None:
    """Opened, and volts and speed brought together in rows."""
    data = open_recording(folder / "run.jsonl").data
    volts, speed = data.volts, data.speed
    if volts is None or speed is None:
        raise SystemExit("the benchmark's own recording did not come back")
    digit_v, digit_rpm = (
        InstrumentLimits.of(each.card, each.first_values()).digit for each in (volts, speed)
    )
    _, pairing = _aligned(data, volts, speed, digit_v, digit_rpm, None, unheard)
    if len(pairing.mark) == 0 or float(np.mean(pairing.mark == Mark.GOOD)) < 0.9:
        raise SystemExit("the benchmark's own run was not aligned")


def judged(folder: Path) -> None:
    """Opened, aligned, rated and judged."""
    result = open_recording(folder / "run.jsonl").result()
    if result.verdict != "pass" or result.rows - result.rows_rejected < 0.9 * result.rows:
        raise SystemExit(f"the benchmark's own run was judged {result.verdict}: {result.reasons}")


def exported(folder: Path) -> None:
    """Opened, aligned, and written as aligned CSV."""
    from daq.export.aligned_csv import export_aligned

    run = open_recording(folder / "run.jsonl")
    export_aligned(run.aligned(), folder / "ours.csv", {}, force=True)


def keep_rows(folder: Path) -> None:
    """The aligned rows as a frame of their own, so that both ways of writing get the same."""
    open_recording(folder / "run.jsonl").aligned().to_pickle(folder / "frame.pickle")


def merged_and_written(folder: Path) -> None:
    """What two lines of pandas do: the newest speed beside each volts reading, written by ``to_csv``."""
    whole = pd.read_csv(folder / "run.csv", header=None, names=list(_TYPES), dtype=_TYPES)
    volts, speed = (whole.loc[whole.channel == number, ["t", "value"]] for number in (0, 1))
    pd.merge_asof(volts, speed, on="t").to_csv(folder / "pandas.csv", index=False)


def interpolated(folder: Path) -> None:
    """The same numbers read and the speed interpolated to the volts, as by hand with numpy."""
    whole = pd.read_csv(folder / "run.csv", header=None, names=list(_TYPES), dtype=_TYPES)
    t, value, channel = (whole[name].to_numpy() for name in ("t", "value", "channel"))
    speed = np.interp(t[channel == 0], t[channel == 1], value[channel == 1])
    (value[channel == 0] / speed).sum()


def main() -> int:
    most = int(float(sys.argv[1] if len(sys.argv) > 1 else 10) * 1e6)
    sizes = [size for size in (10_000, 100_000, 1_000_000, 10_000_000) if size <= most]
    works = (open_csv, opened, aligned, judged, exported, merged_and_written, interpolated)
    print("readings  " + "".join(f"{work.__name__:>26}" for work in works))
    seconds: dict[str, list[float]] = {work.__name__: [] for work in works}
    grown_mb: dict[str, list[float]] = {work.__name__: [] for work in works}
    met = True
    for size in sizes:
        cells = []
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            write_inputs(folder, size)
            columns_mb = size * COLUMN_BYTES / 1e6
            for work in works:
                s, mb = measured(work, folder)
                seconds[work.__name__].append(s)
                grown_mb[work.__name__].append(mb)
                ratio = s / seconds["open_csv"][-1]
                cells.append(f"{s:8.3f} s {ratio:5.2f}x {mb / columns_mb:5.1f}col")
                if size == sizes[-1] and work.__name__ in WANTED:
                    met = _told(work.__name__, ratio, mb / columns_mb) and met
            print(f"{size:9d} " + " ".join(cells), flush=True)
            whole_s = seconds["exported"][-1]
            measured(keep_rows, folder)
            ours_s, theirs_s = measured(export_ours, folder)[0], measured(export_pandas, folder)[0]
        print(
            f"          the same rows written: {ours_s:.2f} s, {ours_s / theirs_s:.2f} x to_csv ({theirs_s:.2f} s); "
            f"opened, aligned and written: {whole_s / theirs_s:.2f} x to_csv",
            flush=True,
        )
        met = met and (size != sizes[-1] or ours_s <= theirs_s)
    if len(sizes) > 1:
        print("growth with size over the last decade (1 is linear): time, memory")
        for name in seconds:
            slopes = [float(np.log10(each[name][-1] / each[name][-2])) for each in (seconds, grown_mb)]
            print(f"  {name:20s} {slopes[0]:.2f} {slopes[1]:.2f}")
            met = met and (name not in OURS or max(slopes) <= MOST_SLOPE)
    return 0 if met else 1


def _told(name: str, ratio: float, columns: float) -> bool:
    """Whether a figure of the largest size is as wanted; says so where it is not."""
    if ratio <= WANTED[name] and columns < MOST_COLUMNS:
        return True
    print(f"{name}: NOT MET, wanted {WANTED[name]:g} x read_csv and under {MOST_COLUMNS:g} times the columns")
    return False


if __name__ == "__main__":
    sys.exit(main())
