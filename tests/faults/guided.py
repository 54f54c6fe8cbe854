"""One target, fuzzed for some seconds: ``python -m tests.faults.guided TARGET SECONDS FOLDER``.

With atheris, which steers by the branches that are reached; without it, by blind mutation of
what lies in the corpus. The last line says how it went: inputs tried, and what was found.
What breaks a target is kept in FOLDER.
"""

from __future__ import annotations

import importlib
import importlib.util
import os
import random
import sys
import time
from collections.abc import Callable
from pathlib import Path

__all__ = ["has_atheris", "main"]

_TOO_SLOW_S = 1.0
"""Of the processor, for one input; what is slow is tried again, for a busy computer slows the processor too."""
_HANGS_S = 60
_RSS_LIMIT_MB = 2048
_LONGEST = 200_000


def has_atheris() -> bool:
    """Whether the fuzzing can be guided by coverage."""
    return importlib.util.find_spec("atheris") is not None


def main() -> None:
    """Fuzz."""
    target, seconds, folder = sys.argv[1], int(sys.argv[2]), Path(sys.argv[3])
    corpus = folder / f"corpus-{target}"
    corpus.mkdir(parents=True, exist_ok=True)
    if has_atheris():
        _guided(target, seconds, folder, corpus)
    else:
        _blind(target, seconds, folder)


def _guided(target: str, seconds: int, folder: Path, corpus: Path) -> None:
    atheris = importlib.import_module("atheris")
    with atheris.instrument_imports(include=["daq", "drivers"]):
        from tests.faults.targets import TARGETS, seeds_of
    for number, seed in enumerate(seeds_of(target)):
        (corpus / f"seed-{number}").write_bytes(seed)
        TARGETS[target](seed)  # imports what is imported late
    arguments = [
        sys.argv[0],
        f"-max_total_time={seconds}",
        f"-timeout={_HANGS_S}",
        f"-rss_limit_mb={_RSS_LIMIT_MB}",
        f"-max_len={_LONGEST}",
        f"-artifact_prefix={folder}/{target}-",
        "-print_final_stats=1",
        str(corpus),
    ]
    atheris.Setup(arguments, lambda data: _in_time(TARGETS[target], data))
    atheris.Fuzz()


def _in_time(target: Callable[[bytes], object], data: bytes) -> None:
    for _ in range(3):
        began_s = time.process_time()
        target(data)
        took_s = time.process_time() - began_s
        if took_s < _TOO_SLOW_S:
            return
    assert took_s < _TOO_SLOW_S, f"{took_s:.1f} s for {len(data)} bytes"


def _blind(target: str, seconds: int, folder: Path) -> None:
    from tests.faults.mutations import hurt
    from tests.faults.targets import TARGETS, seeds_of

    seeds = seeds_of(target)
    rng = random.Random(int.from_bytes(os.urandom(4)))
    end_s, tried = time.monotonic() + seconds, 0
    while time.monotonic() < end_s:
        data = hurt(rng.choice(seeds), rng, rng.randint(1, 6))[:_LONGEST]
        try:
            _in_time(TARGETS[target], data)
        except BaseException:
            (folder / f"{target}-crash-{tried}").write_bytes(data)
            raise
        tried += 1
    print(f"stat::number_of_executed_units: {tried}", file=sys.stderr)


if __name__ == "__main__":
    main()
