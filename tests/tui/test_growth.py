"""Waiting for a file to grow, by the system's word and by looking."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

import pytest

from tui.growth import Looking, growth_of


def test_it_ends_when_the_file_grows(tmp_path: Path) -> None:
    file = tmp_path / "run.jsonl"
    file.touch()
    growth = growth_of(file)
    began_s = time.monotonic()
    with file.open("ab", buffering=0) as writer:
        timer = threading.Timer(0.05, lambda: writer.write(b"x"))
        timer.start()
        while not file.stat().st_size:
            growth.wait(20.0)
        timer.join()
    assert time.monotonic() - began_s < 10.0
    growth.close()
    growth.close()


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere nobody tells, and one looks")
def test_what_grew_between_two_waits_is_told_once_and_nothing_is_told_of_nothing(tmp_path: Path) -> None:
    file = tmp_path / "run.jsonl"
    file.touch()
    growth = growth_of(file)
    with file.open("ab", buffering=0) as writer:
        for _ in range(3):
            writer.write(b"x")
    began_s = time.monotonic()
    growth.wait(20.0)
    told_s = time.monotonic()
    growth.wait(0.1)
    assert told_s - began_s < 10.0
    assert time.monotonic() - told_s >= 0.09
    growth.close()


def test_it_ends_when_woken_and_leaves_no_open_file(tmp_path: Path) -> None:
    file = tmp_path / "run.jsonl"
    file.touch()
    before = len(os.listdir("/dev/fd")) if os.path.isdir("/dev/fd") else 0
    for growth in (growth_of(file), Looking()):
        growth.wake()
        began_s = time.monotonic()
        growth.wait(20.0)
        assert time.monotonic() - began_s < 10.0
        growth.close()
        growth.wake()
    assert before == (len(os.listdir("/dev/fd")) if os.path.isdir("/dev/fd") else 0)


def test_a_file_that_is_gone_is_looked_for(tmp_path: Path) -> None:
    growth = growth_of(tmp_path / "gone.jsonl")
    assert isinstance(growth, Looking)
    growth.wait(20.0)
