"""Mutation check of the alignment, the rated output and the verdict: which small wrongs do the tests miss?

Run as ``python -m tests.benchmarks.mutation_check [--count 420] [--seed 7] [--jobs 2] [--out FILE]``; a
sample of all wrongs that ``mutants.py`` knows is drawn with a fixed seed. ``--again FILE`` runs the survivors
of an earlier run once more, ``--slow`` takes the slow tests too.

Everything happens in a copy of the repository in a temporary folder; this tree is never touched. The tests
are collected once and run once, noting which functions each calls. Then, for each wrong, a forked child puts
it in place in memory and runs the tests that call the function it sits in, the quickest first, until one
fails. A child that uses more than a minute of the processor counts as killed. POSIX only, because of the fork.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from tests.benchmarks.mutant_in_place import put_in_place
from tests.benchmarks.mutants import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("daq/align", "daq/rated", "daq/verdict")
COPIED = ("daq", "drivers", "tui", "tests", "recordings", "pyproject.toml")
TESTS = ("tests/daq/align", "tests/daq/rated", "tests/daq/verdict", "tests/daq/run")
OUTSIDE = (
    "uncertainty", "read_together", "meter_budget", "limits_of_acceptance", "regression", "speed_and_poles",
    "proportion_to_speed", "waveforms",
)  # fmt: skip
LIMIT_S = 60
SLOW_S = 1.0
"""Tests that take longer are run with ``--slow`` only."""
Called = dict[str, tuple[float, set[str]]]
"""For each test its seconds, and the functions it called as ``file:name``."""


@dataclass(eq=False)
class Outcome:
    """How a wrong fared."""

    name: str
    killed: bool
    by: str
    tests: int
    seconds: float


@dataclass(eq=False)
class Failures:
    """A pytest plugin that remembers what failed."""

    by: list[str] = field(default_factory=list)

    def pytest_runtest_logreport(self, report: Any) -> None:
        """Called by pytest for each phase of each test."""
        if report.failed and report.nodeid not in self.by:
            self.by.append(report.nodeid)


def in_fork(work: Callable[[], dict[str, Any]], answer: Path, limit_s: int = LIMIT_S) -> int:
    """Do work in a forked child that says nothing but its answer, as JSON; the child's process number."""
    pid = os.fork()
    if pid:
        return pid
    code = 70
    try:
        resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s + 1))
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        answer.write_text(json.dumps(work()), encoding="utf-8")
        code = 0
    except BaseException:
        answer.write_text(traceback.format_exc(), encoding="utf-8")
        raise
    finally:
        os._exit(code)


def run_items(
    items: list[Any], around: Callable[[Any, Callable[[], None]], None], *, stop: bool
) -> list[str]:
    """Run collected tests, each through ``around``; those that failed, the first alone if told to stop."""
    first = Failures()
    if not items:
        return []  # no test calls it
    items[0].config.pluginmanager.register(first)
    for item, following in zip(items, [*items[1:], None], strict=True):
        hook = item.config.hook
        around(item, lambda i=item, f=following, h=hook: h.pytest_runtest_protocol(item=i, nextitem=f))  # type: ignore[misc]  # bound now
        if first.by and stop:
            break
    return first.by


@dataclass(eq=False)
class Check:
    """A pytest plugin: in the place of pytest's own loop it tries one wrong after the other."""

    mutants: list[Mutant]
    jobs: int
    out: Path
    slow: bool
    called: Called = field(default_factory=dict)

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Called by pytest once everything is collected."""
        answer = self.out.with_suffix(".once")
        status = os.waitpid(in_fork(lambda: self._once(session.items), answer, 20 * LIMIT_S), 0)[1]
        if status:
            raise RuntimeError(f"the tests could not be run: {answer.read_text(encoding='utf-8')}")
        told: dict[str, Any] = json.loads(answer.read_text(encoding="utf-8"))
        self.called = {name: (seconds, set(calls)) for name, (seconds, calls) in told["called"].items()}
        total = sum(seconds for seconds, _ in self.called.values())
        print(
            f"\nnothing wrong: {len(self.called)} tests, in {total:.0f} s with their calls noted",
            flush=True,
        )
        for failed in told["by"]:
            print(f"left out, for it fails on the code as it is: {failed}", flush=True)
        quick = {name for name, (seconds, _) in self.called.items() if self.slow or seconds <= SLOW_S}
        items = [item for item in session.items if item.nodeid in quick and item.nodeid not in told["by"]]
        with self.out.open("w", encoding="utf-8") as out:
            for outcome in self._all(items):
                out.write(json.dumps(vars(outcome)) + "\n")
                out.flush()
                if not outcome.killed:
                    print(f"SURVIVED {outcome.tests} tests: {outcome.name}", flush=True)
        return True

    def _once(self, items: list[Any]) -> dict[str, Any]:
        called: dict[str, tuple[float, list[str]]] = {}

        def noting(item: Any, run: Callable[[], None]) -> None:
            seen: set[str] = set()

            def trace(frame: FrameType, _event: str, _argument: object) -> None:
                seen.add(f"{frame.f_code.co_filename}:{frame.f_code.co_qualname.split('.<locals>')[0]}")

            begun = time.process_time()
            sys.settrace(trace)
            run()
            sys.settrace(None)
            here = f"{Path.cwd()}/"
            ours = [name.removeprefix(here) for name in seen if name.startswith(here + "daq/")]
            called[item.nodeid] = (time.process_time() - begun, sorted(ours))

        return {"by": run_items(items, noting, stop=False), "called": called}

    def _fitting(self, items: list[Any], mutant: Mutant) -> list[Any]:
        """The tests that call the function it sits in; of what sits in none, those that call anything beside it."""
        where = f"{mutant.module}:{mutant.owner}"
        fits = [i for i in items if any(_sits(where, mutant, c) for c in self.called[i.nodeid][1])]
        return sorted(fits, key=lambda i: self.called[i.nodeid][0])

    def _all(self, items: list[Any]) -> Iterator[Outcome]:
        waiting = list(reversed(self.mutants))
        running: dict[int, tuple[Mutant, int, float, Path]] = {}
        free = [self.out.with_suffix(f".{job}") for job in range(self.jobs)]
        while waiting or running:
            while waiting and free:
                mutant, answer = waiting.pop(), free.pop()
                fits = self._fitting(items, mutant)
                answer.unlink(missing_ok=True)
                pid = in_fork(lambda m=mutant, f=fits: {"by": _tried(m, f)}, answer)  # type: ignore[misc]  # bound now
                running[pid] = (mutant, len(fits), time.monotonic(), answer)
            pid, status = os.wait()
            mutant, count, begun, answer = running.pop(pid)
            free.append(answer)
            seconds = time.monotonic() - begun
            if os.WIFSIGNALED(status):
                by = f"no end: {signal.Signals(os.WTERMSIG(status)).name}"
            elif status == 0:
                by = json.loads(answer.read_text(encoding="utf-8"))["by"]
            else:
                raise RuntimeError(
                    f"the check went wrong at {mutant.name}: {answer.read_text(encoding='utf-8')}"
                )
            yield Outcome(mutant.name, bool(by), by, count, seconds)


def _sits(where: str, mutant: Mutant, call: str) -> bool:
    return call == where if mutant.owner else call.startswith(f"{mutant.module}:")


def _tried(mutant: Mutant, items: list[Any]) -> str:
    try:
        put_in_place(mutant.module, mutant.source)
    except Exception as error:  # noqa: BLE001  # a wrong may break a module in any way: then it is found
        return f"can't be imported: {error}"
    return next(iter(run_items(items, lambda _, run: run(), stop=True)), "")


def drawn(arguments: argparse.Namespace) -> list[Mutant]:
    """The sample, or the survivors of an earlier run."""
    files = [p for folder in arguments.packages for p in sorted(Path(folder).glob("*.py"))]
    everything = [m for path in files for m in mutants_of(str(path), path.read_text(encoding="utf-8"))]
    if arguments.again:
        earlier = [
            json.loads(line) for line in Path(arguments.again).read_text(encoding="utf-8").splitlines()
        ]
        wanted = {each["name"] for each in earlier if not each["killed"]}
        return [m for m in everything if m.name in wanted]
    count = min(arguments.count, len(everything))
    print(f"{len(everything)} wrongs are known, {count} are drawn with seed {arguments.seed}")
    return random.Random(arguments.seed).sample(everything, count)


def here(arguments: argparse.Namespace) -> int:
    """The check itself, in the copy."""
    from hypothesis import settings

    settings.register_profile("mutation", derandomize=True, database=None, deadline=None)
    settings.load_profile("mutation")
    out = Path(arguments.out)
    check = Check(drawn(arguments), arguments.jobs, out, arguments.slow)
    files = [*TESTS, *(f"tests/outside/test_{name}.py" for name in OUTSIDE)]
    options = [
        "-q",
        "-s",
        "-p",
        "no:cacheprovider",
        "-p",
        "no:xdist",
        "-W",
        "ignore::pytest.PytestAssertRewriteWarning",
    ]
    pytest.main([*options, *(f for f in files if Path(f).exists())], plugins=[check])
    if not check.called:
        return 1
    counted: dict[str, Counter[bool]] = {}
    for line in out.read_text(encoding="utf-8").splitlines():
        outcome = json.loads(line)
        counted.setdefault(outcome["name"].split(":")[0], Counter())[outcome["killed"]] += 1
    print(f"\n{'module':<34}{'killed':>8}{'survived':>10}")
    for module, count in sorted(counted.items()):
        print(f"{module:<34}{count[True]:>8}{count[False]:>10}")
    total = sum(counted.values(), Counter[bool]())
    print(f"{'all':<34}{total[True]:>8}{total[False]:>10}")
    return 0


def main() -> int:
    """Print the survivors and the table; 1 where the tests could not be run."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--count", type=int, default=420)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--packages", nargs="*", default=list(PACKAGES))
    parser.add_argument("--slow", action="store_true", help="also with the tests that take long")
    parser.add_argument("--again", help="file of an earlier run, whose survivors are run once more")
    parser.add_argument(
        "--out", default="mutation.jsonl", help="file for every outcome, one JSON value a line"
    )
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.here:
        return here(arguments)
    os.nice(5)
    with tempfile.TemporaryDirectory(prefix="mutation-") as folder:
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(
                    ROOT / name, Path(folder) / name, ignore=shutil.ignore_patterns("__pycache__")
                )
            else:
                shutil.copy(ROOT / name, Path(folder) / name)
        files = [f"--out={Path(arguments.out).resolve()}"]
        if arguments.again:
            files.append(f"--again={Path(arguments.again).resolve()}")
        command = [sys.executable, "-m", "tests.benchmarks.mutation_check", "--here", *sys.argv[1:], *files]
        environment = os.environ | {"OPENBLAS_NUM_THREADS": "1"}
        return subprocess.run(command, cwd=folder, env=environment, check=False).returncode


if __name__ == "__main__":
    raise SystemExit(main())
