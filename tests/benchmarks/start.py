"""How quickly the program starts: ``python -m tests.benchmarks.start``.

Goal: ``spinvolt --help`` in at most 1.5 times the time of ``python -c "import argparse, numpy"``,
both measured in turn, so that a change of the machine's pace strikes both.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

GOAL = 1.5
_ROUNDS = 21
_COMMANDS = {
    "spinvolt --help": [sys.executable, "-m", "tui", "--help"],
    "import argparse, numpy": [sys.executable, "-c", "import argparse, numpy"],
}


def main() -> int:
    """Measure and print; the exit status tells whether the goal is met."""
    took_s: dict[str, list[float]] = {name: [] for name in _COMMANDS}
    for _ in range(_ROUNDS):
        for name, command in _COMMANDS.items():
            began_s = time.perf_counter()
            subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
            took_s[name].append(time.perf_counter() - began_s)
    medians = {name: statistics.median(values) for name, values in took_s.items()}
    for name, value in medians.items():
        print(f"{name}: median {1000 * value:.0f} ms of {_ROUNDS}")
    first, second = medians.values()
    print(f"ratio {first / second:.2f}, goal {GOAL}")
    return 0 if first / second <= GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
