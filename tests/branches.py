"""How many of the branches the suite goes through, processes that it starts included: ``python -m tests.branches``.

What stands behind the name goes to pytest. Prints a line for each room with what is wanted, and the files
that are worst off; the exit status tells whether all is met. Settings: ``[tool.coverage]`` in pyproject.toml.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

WANTED_PERCENT = {"daq": 95.0, "drivers": 90.0, "tui": 90.0}
_WORST = 25
_ROOT = Path(__file__).parent.parent


def main() -> int:
    """Run the suite under coverage, and tell."""
    # In memory where that can be: a process that is asked to end, and must wait for a disk to keep its data, is killed.
    memory = "/dev/shm" if os.path.isdir("/dev/shm") else None
    with tempfile.TemporaryDirectory(prefix="spinvolt-branches-", dir=memory) as folder:
        data, report = Path(folder) / "data", Path(folder) / "report.json"
        environment = {**os.environ, "COVERAGE_FILE": str(data)}
        coverage = [sys.executable, "-m", "coverage"]
        tested = subprocess.run(
            [*coverage, "run", "-m", "pytest", "-q", *sys.argv[1:]], cwd=_ROOT, env=environment, check=False
        )
        for step in (["combine", "-q"], ["json", "-q", "-o", str(report)]):
            subprocess.run([*coverage, *step], cwd=_ROOT, env=environment, check=True)
        files: dict[str, dict[str, Any]] = json.loads(report.read_text())["files"]
    met = _tell({name: found["summary"] for name, found in files.items()})
    return 0 if met and tested.returncode == 0 else 1


def _tell(files: dict[str, dict[str, Any]]) -> bool:
    met = True
    print("room | wanted | branches gone through | lines")
    for room, wanted in WANTED_PERCENT.items():
        inside = [summary for name, summary in files.items() if Path(name).parts[0] == room]
        branches = _percent(inside, "covered_branches", "num_branches")
        lines = _percent(inside, "covered_lines", "num_statements")
        met = met and branches >= wanted
        missed = "" if branches >= wanted else "  <- NOT MET"
        print(f"{room} | {wanted:.0f} % | {branches:.1f} %{missed} | {lines:.1f} %")
    print("worst files: branches that nothing goes through, of all")
    for name, summary in sorted(files.items(), key=lambda item: -item[1]["missing_branches"])[:_WORST]:
        print(f"  {summary['missing_branches']:4} of {summary['num_branches']:4}  {name}")
    return met


def _percent(summaries: list[dict[str, Any]], part: str, whole: str) -> float:
    total = sum(summary[whole] for summary in summaries)
    return 100.0 * sum(summary[part] for summary in summaries) / total if total else 0.0


if __name__ == "__main__":
    sys.exit(main())
