"""A full disk under a real capture is told while it lasts, not at the end."""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

from tests.tui.program import environment, interrupt

LIMIT_BYTES, MOST_LINES = 3600, 40


def _small_files() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (LIMIT_BYTES, LIMIT_BYTES))


def test_a_file_that_can_not_grow_is_told_in_the_lines(tmp_path: Path) -> None:
    out, home = tmp_path / "run.jsonl", tmp_path / "home"
    home.mkdir()
    said: list[str] = []
    with subprocess.Popen(
        [sys.executable, "-m", "tui", "demo", "--headless", "--out", str(out)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        preexec_fn=_small_files,
        env={**environment(tmp_path), "HOME": str(home)},
    ) as process:
        try:
            assert process.stdout is not None
            # One line comes each second; how soon so much was recorded is the computer's affair.
            while len(said) < MOST_LINES and "not shown while the disk takes nothing" not in "".join(
                said[:-1]
            ):
                said.append(process.stdout.readline())
            interrupt(process)
            rest, err = process.communicate(timeout=60)
        except BaseException:
            process.kill()
            raise
    told = "".join(said) + rest
    assert out.stat().st_size <= LIMIT_BYTES
    words = [line for line in said if "run.jsonl has reached the greatest size" in line]
    assert len(words) == 1, told
    assert process.returncode == 1
    assert "ends early" in err
    assert out.read_bytes().endswith(b"\n")
    assert "not shown while the disk takes nothing" in told
    assert "check both cables" not in told
