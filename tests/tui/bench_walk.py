"""A job as a stranger does it: the bench in one terminal, `spinvolt job next -i` in another; nothing imitated."""

from __future__ import annotations

import json
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Self

from tests.tui.program import Ran, spinvolt, start

__all__ = ["BenchWalk"]

METER_CARDS = ("bench-meter", "bench-dc-volts", "bench-amps", "bench-ohms")


class BenchWalk:
    """A bench with a fault, and a job file beside it."""

    def __init__(self, folder: Path, fault: str, seed: int = 5) -> None:
        folder.mkdir()
        self.folder = folder
        self._bench = start(
            "bench", "--fault", fault, "--seed", str(seed), folder=folder, stdin=subprocess.PIPE
        )
        meter, tach = (self._line()["address"] for _ in range(2))
        cards = [f"{card}@{meter}" for card in METER_CARDS]
        self.instruments = [part for each in (*cards, f"bench-tach@{tach}") for part in ("-i", each)]
        self.job("start", "cart.jsonl", "--machine", "nursery-sprayer")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._bench.terminate()
        self._bench.communicate(timeout=30)

    def tell(self, line: str) -> None:
        """Type a line to the bench."""
        assert self._bench.stdin is not None
        self._bench.stdin.write(f"{line}\n")
        self._bench.stdin.flush()
        answer = self._line()
        assert "error" not in answer, answer

    def job(self, action: str, *arguments: str) -> Ran:
        """A command of the job; it must go well."""
        ran = spinvolt("job", action, *arguments, folder=self.folder)
        assert (ran.status, ran.err) == (0, ""), ran
        return ran

    def record(
        self,
        bench: str,
        step: str,
        seconds: float,
        *,
        reading: str = "",
        later: tuple[float, str] | None = None,
    ) -> str:
        """Set the bench and record a test's next reading.

        ``later``: a line for the bench, some seconds after the recording has begun.
        """
        self.tell(bench)
        names = [reading] if reading else []
        arguments = (*names, "--step", step, *self.instruments, "--seconds", str(seconds))
        with start("job", "next", "cart.jsonl", *arguments, folder=self.folder) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            said = []
            for line in process.stdout:
                said.append(line)
                if later is not None and line.startswith("Recording"):
                    time.sleep(later[0])
                    self.tell(later[1])
            err = process.stderr.read()
        assert (process.returncode, err) == (0, ""), (said, err)
        return "".join(said)

    def _line(self) -> dict[str, str]:
        assert self._bench.stdout is not None
        found: dict[str, str] = json.loads(self._bench.stdout.readline())
        return found
