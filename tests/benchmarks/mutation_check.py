"""Mutation check of the alignment, the rated output and the verdict: which small wrongs do the tests miss?

Run as ``python -m tests.benchmarks.mutation_check [--count 480] [--seed 7] [--jobs 2] [--out FILE]``; a
sample of all wrongs that ``mutants.py`` knows is drawn with a fixed seed. ``--again FILE`` runs the survivors
of an earlier run once more, ``--wide`` with more tests. Each wrong is put into a copy of the repository in a
temporary folder; this tree is never touched. A child process forked for each imports the copy and runs the
module's own tests, then the others that fit, until the first failure. It may use so much time of the
processor and no more; what runs past that counts as killed.

It takes about half an hour on two free cores. POSIX only, because of the fork.
"""

from __future__ import annotations

import argparse
import importlib
import json
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from tests.benchmarks.mutants import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
MODULES = ("daq/align", "daq/rated", "daq/verdict")
COPIED = ("daq", "drivers", "tui", "tests", "recordings", "pyproject.toml")
LIMIT_S = 60
"""Time of the processor; a hung child may take ten times as long by the clock."""
HEAVY = (
    "numpy", "pandas", "scipy.special", "scipy.stats", "scipy.integrate", "scipy.optimize", "statsmodels.api",
    "GTC", "uncertainties", "msgspec", "pytest", "hypothesis", "_pytest.assertion.rewrite",
)  # fmt: skip
"""Imported once, before the forks, because they take seconds."""
OUTSIDE = (
    "test_uncertainty", "test_meter_budget", "test_limits_of_acceptance", "test_regression",
    "test_speed_and_poles", "test_proportion_to_speed", "test_rated_steps", "test_waveforms", "test_lag_bound",
)  # fmt: skip
_NOT_REWRITTEN = "ignore::pytest.PytestAssertRewriteWarning"
PACKAGES = {"align": ("align",), "rated": ("rated", "verdict"), "verdict": ("verdict", "rated")}


def tests_for(root: Path, module: str, *, wide: bool) -> tuple[list[str], list[str]]:
    """A module's own test files, and the others that fit; ``wide``: all that touch any of the three packages."""
    package, stem = Path(module).parent.name, Path(module).stem
    folders = ("align", "rated", "verdict", "run") if wide else PACKAGES[package]
    files = [p for name in folders for p in sorted((root / "tests/daq" / name).glob("test_*.py"))]
    if wide or package != "align":
        files += [p for name in OUTSIDE if (p := root / "tests/outside" / f"{name}.py").is_file()]
    own = [p for p in files if stem.split("_")[0] in p.stem]
    rest = [p for p in files if p not in own]
    return [str(p.relative_to(root)) for p in own], [str(p.relative_to(root)) for p in rest]


@dataclass
class Outcome:
    """How a wrong fared."""

    name: str
    killed: bool
    by: str
    seconds: float


@dataclass(eq=False)
class FirstFailure:
    """A pytest plugin that remembers what failed first."""

    by: str = ""
    counted: Counter[str] = field(default_factory=Counter)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """Called by pytest for each phase of each test."""
        self.counted[report.outcome] += 1
        if report.failed and not self.by:
            self.by = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        """Called by pytest for each file."""
        if report.failed and not self.by:
            self.by = f"{report.nodeid} (not collected)"


def in_child(copy: Path, stages: tuple[list[str], list[str]], answer: Path) -> int:
    """Run the tests in a copy, one stage after the other; the exit code of pytest."""
    import resource

    import pytest
    from hypothesis import settings

    os.chdir(copy)
    sys.path[:] = [str(copy), *(p for p in sys.path if Path(p or ".").resolve() != ROOT)]
    for name in [n for n in sys.modules if n.split(".")[0] in {"daq", "tests", "drivers", "tui"}]:
        del sys.modules[name]
    settings.register_profile("mutation", derandomize=True, database=None, deadline=None)
    settings.load_profile("mutation")
    silence = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silence, 1)
    os.dup2(silence, 2)
    first = FirstFailure()
    # Imported before the fork, hypothesis can't be rewritten any more, and need not be.
    options = ["-x", "-q", "-p", "no:cacheprovider", "-p", "no:xdist", "-W", _NOT_REWRITTEN]
    resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))
    code = 0
    for tests in stages:
        if tests and not code:
            code = int(pytest.main([*options, *tests], plugins=[first]))
    answer.write_text(f"{first.by}\n{sum(first.counted.values())}", encoding="utf-8")
    return code


@dataclass
class Worker:
    """One copy of the repository, and the child that runs in it."""

    copy: Path
    pid: int = 0
    mutant: Mutant | None = None
    right: str = ""
    """The module as it was before the wrong was put in."""
    begun: float = 0.0
    number: int = 1_000_000_000

    @classmethod
    def in_folder(cls, folder: Path) -> Worker:
        """Copy the repository."""
        for name in COPIED:
            source, target = ROOT / name, folder / name
            if source.is_dir():
                shutil.copytree(source, target, ignore=shutil.ignore_patterns("__pycache__", "*.jsonl"))
            else:
                shutil.copy(source, target)
        return cls(folder)

    def begin(self, mutant: Mutant | None, stages: tuple[list[str], list[str]]) -> None:
        """Put a wrong in (or none) and fork."""
        self.mutant, self.begun = mutant, time.monotonic()
        if mutant is not None:
            self.right = (self.copy / mutant.module).read_text(encoding="utf-8")
            self._write(mutant.module, mutant.source)
        self.answer.unlink(missing_ok=True)
        self.pid = os.fork()
        if self.pid == 0:
            os.setpgid(0, 0)
            code = 70
            try:
                code = in_child(self.copy, stages, self.answer)
            finally:
                os._exit(code)

    def ended(self) -> Outcome | None:
        """The outcome once the child is done or its time is up; None before."""
        pid, status = os.waitpid(self.pid, os.WNOHANG)
        seconds = time.monotonic() - self.begun
        if pid == 0 and seconds < 10.0 * LIMIT_S:
            return None
        if pid == 0:
            os.kill(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            outcome = self._outcome(True, "no end in sight", seconds)
        else:
            code = os.waitstatus_to_exitcode(status)
            said = self.answer.read_text(encoding="utf-8").splitlines() if self.answer.exists() else [""]
            if code > 0 and not said[0]:
                raise RuntimeError(f"pytest ended with {code} and no test failed: the check itself is wrong")
            outcome = self._outcome(code != 0, said[0] or f"ended by signal {-code}", seconds)
        if self.mutant is not None:
            self._write(self.mutant.module, self.right)
        self.pid, self.mutant = 0, None
        return outcome

    @property
    def answer(self) -> Path:
        """Where the child writes what failed first."""
        return self.copy / "answer.txt"

    def _outcome(self, killed: bool, by: str, seconds: float) -> Outcome:
        return Outcome(
            self.mutant.name if self.mutant else "nothing wrong", killed, by if killed else "", seconds
        )

    def _write(self, module: str, source: str) -> None:
        path = self.copy / module
        path.write_text(source, encoding="utf-8")
        # Python tells a stale cache by the second: each wrong gets a second of its own.
        self.number += 1
        os.utime(path, (self.number, self.number))


def run_all(workers: list[Worker], mutants: list[Mutant], *, wide: bool) -> Iterator[Outcome]:
    """Outcomes as they come."""
    waiting = list(reversed(mutants))
    while waiting or any(w.pid for w in workers):
        for worker in workers:
            if not worker.pid and waiting:
                mutant = waiting.pop()
                worker.begin(mutant, tests_for(worker.copy, mutant.module, wide=wide))
            elif worker.pid and (outcome := worker.ended()) is not None:
                yield outcome
        time.sleep(0.02)


def unharmed(worker: Worker) -> Outcome:
    """The tests on the copy as it is: if these fail, nothing below means anything."""
    worker.begin(None, tests_for(worker.copy, "daq/align/x.py", wide=True))
    while (outcome := worker.ended()) is None:
        time.sleep(0.05)
    return outcome


def drawn(arguments: argparse.Namespace) -> list[Mutant]:
    """The sample, or the survivors of an earlier run."""
    files = [p for m in arguments.modules for p in sorted((ROOT / m).glob("*.py"))]
    everything = [
        mutant
        for path in files
        for mutant in mutants_of(str(path.relative_to(ROOT)), path.read_text(encoding="utf-8"))
    ]
    if arguments.again:
        earlier = [
            json.loads(line) for line in Path(arguments.again).read_text(encoding="utf-8").splitlines()
        ]
        wanted = {each["name"] for each in earlier if not each["killed"]}
        return [m for m in everything if m.name in wanted]
    print(f"{len(everything)} wrongs are known, {min(arguments.count, len(everything))} are drawn")
    return random.Random(arguments.seed).sample(everything, min(arguments.count, len(everything)))


def main() -> int:
    """Print the survivors and the table; 1 where the tests fail on the code as it is."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=480)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--modules", nargs="*", default=list(MODULES))
    parser.add_argument("--again", help="file of an earlier run, whose survivors are run once more")
    parser.add_argument("--wide", action="store_true", help="with more tests than each module's own")
    parser.add_argument("--out", help="file to write every outcome to, one JSON value a line")
    arguments = parser.parse_args()
    os.nice(5)
    os.environ["OPENBLAS_NUM_THREADS"] = "1"
    mutants = drawn(arguments)
    for name in HEAVY:
        importlib.import_module(name)
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        workers = [Worker.in_folder(Path(folder) / str(i)) for i in range(arguments.jobs)]
        clean = unharmed(workers[0])
        if clean.killed:
            print(f"The tests fail on the code as it is: {clean.by}")
            return 1
        print(f"nothing wrong: all tests pass in {clean.seconds:.0f} s")
        counted: dict[str, Counter[bool]] = {}
        with open(arguments.out or os.devnull, "w", encoding="utf-8") as out:
            for outcome in run_all(workers, mutants, wide=arguments.wide):
                counted.setdefault(outcome.name.split(":")[0], Counter())[outcome.killed] += 1
                out.write(json.dumps(vars(outcome)) + "\n")
                out.flush()
                if not outcome.killed:
                    print(f"SURVIVED {outcome.name}", flush=True)
    print(f"{'module':<34}{'killed':>8}{'survived':>10}")
    for module, count in sorted(counted.items()):
        print(f"{module:<34}{count[True]:>8}{count[False]:>10}")
    total = sum(counted.values(), Counter())
    print(f"{'all':<34}{total[True]:>8}{total[False]:>10}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
