"""The writer's lock, beside others who look whether somebody has it."""

from __future__ import annotations

import fcntl
import threading
from pathlib import Path

from daq.locking import lock_for_writing, writer_alive


def test_one_who_looks_at_that_moment_does_not_cost_the_writer_its_lock(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with path.open("wb") as file, path.open("rb") as looking:
        fcntl.flock(looking, fcntl.LOCK_SH)
        goes = threading.Timer(0.02, fcntl.flock, (looking, fcntl.LOCK_UN))
        goes.start()
        lock_for_writing(file.fileno())
        goes.join()
        assert writer_alive(path)
    assert writer_alive(path) is False


def test_a_lock_that_somebody_keeps_is_not_waited_for_without_end(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    with path.open("wb") as file, path.open("rb") as other:
        fcntl.flock(other, fcntl.LOCK_EX)
        lock_for_writing(file.fileno())
        fcntl.flock(other, fcntl.LOCK_UN)
        assert writer_alive(path) is False
