"""The whole sheet on seeded machines of the virtual bench: which fault is named for which.

    python -m tests.benchmarks.confusion_table [RUNS]

Each run is a whole job of recordings. Tables: the nursery's cart, each a little different; machines of other sizes
(alternators of 4 to 14 A, cold and hot, older batteries, noisier meters); and alternators of other kinds (DC only,
split circuits, AC only; :mod:`tests.daq.job.other_machines`). The sheet sees what the meter and the tach show, and
the machine card; of the bench's truth nothing. The bench is our own, so these tables are no evidence from outside:
they show that rules and tests fit together, and what is mistaken for what.

The quick form, readings typed in instead of recorded, is in ``tests/daq/job/test_confusion.py``.
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from random import Random

from daq.job.status import JobStatus
from drivers.bench.faults import FAULTS
from drivers.bench.kinds import faults_of
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.other_machines import OtherMachine, machine_of_kind, other_machine
from tests.daq.job.whole_job import do_sheet, start_job

__all__ = [
    "NONE",
    "confusion",
    "leading_name",
    "named_fault",
    "named_on_another_machine",
    "named_on_machine",
    "right_name",
    "table_lines",
]

NONE = "none"
"""No fault is named."""
_RIGHT = {"healthy": NONE, "bad_connector": "wiring"}
_RIGHT_OF_KIND = {("dc_only", "open_diode"): "lead_diode"}
OTHER_KINDS = ("dc_only", "split", "ac_only")


def right_name(fault: str, kind: str = "regulated") -> str:
    """What a fault of the bench is called in the table of faults."""
    return _RIGHT_OF_KIND.get((kind, fault)) or _RIGHT.get(fault, fault)


def leading_name(status: JobStatus) -> str:
    """The fault that is named first, or "none"."""
    leading = status.diagnosis.leading
    return NONE if leading is None else leading.name


def named_fault(fault: str, seed: int) -> str:
    """Do the sheet on one cart; the name of the fault that is named first, or "none"."""
    with tempfile.TemporaryDirectory() as folder:
        job = start_job(Path(folder))
        charge = Random(f"{seed} charge").uniform(0.45, 0.8)
        do_sheet(job, BenchJob(Path(folder), fault, seed, charge))
        return leading_name(job.status())


def named_on_another_machine(fault: str, seed: int) -> str:
    """The same on a machine of another size."""
    return named_on_machine(other_machine(seed), fault, seed)


def named_on_machine(other: OtherMachine, fault: str, seed: int) -> str:
    """The same on a machine that is given."""
    with tempfile.TemporaryDirectory() as folder:
        job = start_job(Path(folder), card=other.card)
        do_sheet(job, BenchJob(Path(folder), fault, seed, other.charge, other.build))
        return leading_name(job.status())


def confusion(seeds: Iterable[int], faults: Iterable[str] = FAULTS) -> Counter[tuple[str, str]]:
    """How often each fault (first) was named as what (second), on carts."""
    return Counter((fault, named_fault(fault, seed)) for seed in seeds for fault in faults)


def table_lines(counts: Counter[tuple[str, str]], kind: str = "regulated") -> list[str]:
    """The table as text: a row for each true fault, a column for each that was named."""
    rows = list(dict.fromkeys(true for true, _ in counts))
    columns = sorted({named for _, named in counts}, key=lambda name: (name != NONE, name))
    widths = [max(len(name), 4) for name in columns]
    lines = ["  ".join([f"{'true fault':<20}", *(f"{c:>{w}}" for c, w in zip(columns, widths, strict=True))])]
    for true in rows:
        cells = [f"{counts[(true, c)] or '.':>{w}}" for c, w in zip(columns, widths, strict=True)]
        lines.append("  ".join([f"{true:<20}", *cells]))
    return [*lines, f"named rightly: {_right(counts, kind)} of {counts.total()}"]


def _right(counts: Counter[tuple[str, str]], kind: str) -> int:
    return sum(count for (true, named), count in counts.items() if named == right_name(true, kind))


def main() -> int:
    """Print all tables; the exit status is 0 when every fault was named rightly."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seeds = range(1000, 1000 + max(1, -(-runs // len(FAULTS))))
    carts = confusion(seeds)
    print("The nursery's cart:", *table_lines(carts), sep="\n", flush=True)
    others = Counter((fault, named_on_another_machine(fault, seed)) for seed in seeds for fault in FAULTS)
    print("", "Machines of other sizes:", *table_lines(others), sep="\n", flush=True)
    met = all(_right(each, "regulated") == each.total() for each in (carts, others))
    for kind in OTHER_KINDS:
        counts = Counter(
            (fault, named_on_machine(machine_of_kind(kind, seed), fault, seed))
            for seed in seeds
            for fault in faults_of(kind)
        )
        print("", f"Another kind of alternator, {kind}:", *table_lines(counts, kind), sep="\n", flush=True)
        met = met and _right(counts, kind) == counts.total()
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
