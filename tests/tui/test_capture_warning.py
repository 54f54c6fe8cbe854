"""A full disk under a real capture is told while it lasts, not at the end."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

from tests.tui.program import environment

LIMIT_BYTES = 4000


def _small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT_BYTES, LIMIT_BYTES))


def test_a_file_that_can_not_grow_is_told_in_the_lines(tmp_path: Path) -> None:
    out, home = tmp_path / "run.jsonl", tmp_path / "home"
    home.mkdir()
    program = [sys.executable, "-m", "tui", "demo", "--headless", "--seconds", "9", "--out", str(out)]
    ran = subprocess.run(
        program,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        preexec_fn=_small_files,
        env={**environment(tmp_path), "HOME": str(home)},
        check=False,
    )
    assert out.stat().st_size <= LIMIT_BYTES
    words = [line for line in ran.stdout.splitlines() if "run.jsonl has reached the greatest size" in line]
    assert len(words) == 1, ran.stdout
    assert ran.returncode == 1
    assert "ends early" in ran.stderr
    assert out.read_bytes().endswith(b"\n")
    assert "not shown while the disk takes nothing" in ran.stdout
    assert "check both cables" not in ran.stdout
