"""The faults, as a table of figures: ``python -m tests.faults [--long] [NAME ...]``.

Short by default, as the suite runs them; ``--long`` takes about 20 minutes, and ten more for each
target of the fuzzing. NAMEs pick some: kills, screens, disks, plugs, clocks, listening, fuzz. Instruments that
misbehave for hours have a command of their own: ``python -m tests.faults.soak HOURS``.
"""

from __future__ import annotations

import argparse
import importlib
import sys
import tempfile
import time
from pathlib import Path

NAMES = ("kills", "screens", "disks", "plugs", "clocks", "listening", "fuzz")


def main() -> int:
    """Try them out and print a row each; the exit status tells whether all are met."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults")
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(NAMES))
    parser.add_argument("--long", action="store_true", help="as often and as long as the goals say")
    parser.add_argument(
        "--seed", type=int, metavar="N", help="of fuzz: hurt files of an earlier run; a long run has new ones"
    )
    arguments = parser.parse_args()
    met = True
    print("what | wanted | measured")
    for name in arguments.names or NAMES:
        began_s = time.monotonic()
        module = importlib.import_module(f"tests.faults.{name}")
        more = {"seed": arguments.seed} if name == "fuzz" else {}
        with tempfile.TemporaryDirectory(prefix="spinvolt-faults-") as folder:
            for figure in module.figures(Path(folder), long=arguments.long, **more):
                met = met and figure.met
                print(figure.row(), flush=True)
        print(f"({name}: {time.monotonic() - began_s:.0f} s)", flush=True)
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
