"""A name that the program chose is a free one, also where several runs begin in one moment."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Barrier

import pytest

from daq.capture.launch import CaptureProcess
from daq.recording.entries import SessionEntry
from daq.recording.numbered import create_numbered, next_name
from tests.daq.capture.runs import VOLTS, eventually, lines, of_channel, spec
from tests.drivers.peers import PtyPeer


def test_runs_begun_at_once_under_one_name_are_recorded_side_by_side(tmp_path: Path) -> None:
    path = tmp_path / "spinvolt-20261125-103005.jsonl"

    def record(address: str) -> str:
        wanted = spec(path, ("text-volts", address), numbered=True)
        with CaptureProcess.start(wanted) as capture:
            eventually(lambda: len(of_channel(Path(capture.path), 0)) > 0)
            both.wait(30)
            capture.stop()
            capture.wait(30)
            return Path(capture.path).name

    both = Barrier(2)
    with PtyPeer(VOLTS) as one, PtyPeer(VOLTS) as two, ThreadPoolExecutor(2) as pool:
        names = sorted(pool.map(record, (one.address, two.address)))
    assert names == ["spinvolt-20261125-103005-2.jsonl", "spinvolt-20261125-103005.jsonl"]
    for name in names:
        assert lines(tmp_path / name)[-1]["entry"] == "close"


def test_many_at_once_never_share_a_file(tmp_path: Path) -> None:
    session = SessionEntry(program="spinvolt 0", started_utc="2026-11-25T10:30:05Z", source="run")

    def create(_: int) -> Path:
        writer = create_numbered(tmp_path / "run.jsonl", session)
        writer.abandon()
        return writer.path

    with ThreadPoolExecutor(8) as pool:
        paths = list(pool.map(create, range(24)))
    assert {path.name for path in paths} == {"run.jsonl", *(f"run-{n}.jsonl" for n in range(2, 25))}


@pytest.mark.parametrize(
    ("name", "after"),
    [
        ("run.jsonl", "run-2.jsonl"),
        ("run-2.jsonl", "run-3.jsonl"),
        ("run-9.jsonl", "run-10.jsonl"),
        ("spinvolt-20261125-103005.jsonl", "spinvolt-20261125-103005-2.jsonl"),
    ],
)
def test_the_name_after(name: str, after: str) -> None:
    assert next_name(Path(name)).name == after
