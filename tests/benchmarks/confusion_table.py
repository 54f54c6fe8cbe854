"""The whole sheet on 200 seeded machines of the virtual bench: which fault is named for which.

    python -m tests.benchmarks.confusion_table [RUNS]

The bench is our own, so this table is no evidence from outside: it shows that
rules and tests fit together, and what is mistaken for what.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from random import Random

from drivers.bench.faults import FAULTS
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import do_sheet, start_job

__all__ = ["NONE", "confusion", "named_fault", "table_lines"]

NONE = "none"
"""No fault is named."""


def named_fault(fault: str, seed: int) -> str:
    """Do the sheet on one machine; the name of the fault that is named first, or "none"."""
    with tempfile.TemporaryDirectory() as folder:
        job = start_job(Path(folder))
        charge = Random(f"{seed} charge").uniform(0.45, 0.8)
        do_sheet(job, BenchJob(Path(folder), fault, seed, charge))
        leading = job.status().diagnosis.leading
    return NONE if leading is None else leading.name


def confusion(seeds: Iterable[int], faults: Iterable[str] = FAULTS) -> Counter[tuple[str, str]]:
    """How often each fault (first) was named as what (second)."""
    return Counter((fault, named_fault(fault, seed)) for seed in seeds for fault in faults)


def table_lines(counts: Counter[tuple[str, str]]) -> list[str]:
    """The table as text: a row for each true fault, a column for each that was named."""
    rows = list(dict.fromkeys(true for true, _ in counts))
    columns = sorted({named for _, named in counts}, key=lambda name: (name != NONE, name))
    widths = [max(len(name), 4) for name in columns]
    lines = ["  ".join([f"{'true fault':<20}", *(f"{c:>{w}}" for c, w in zip(columns, widths, strict=True))])]
    for true in rows:
        cells = [f"{counts[(true, c)] or '.':>{w}}" for c, w in zip(columns, widths, strict=True)]
        lines.append("  ".join([f"{true:<20}", *cells]))
    right = sum(count for (true, named), count in counts.items() if named == true.replace("healthy", NONE))
    return [*lines, f"named rightly: {right} of {counts.total()}"]


def main() -> None:
    """Print the table."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seeds = range(1000, 1000 + max(1, runs // len(FAULTS)))
    for line in table_lines(confusion(seeds)):
        print(line)


if __name__ == "__main__":
    main()
