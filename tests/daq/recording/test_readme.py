"""What recordings/README.md shows is what the program reads and writes."""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from daq.job.file.entries import JobLine
from daq.job.file.journal import read_journal
from daq.model.reading import Quality
from daq.recording.entries import FORMAT_VERSION, CloseEntry, Entry
from daq.recording.lines import decode_entry, decode_row
from daq.recording.reader import read_recording
from tests.daq.recording.builders import readings, record

FOLDER = Path(__file__).parents[3] / "recordings"
README = (FOLDER / "README.md").read_text("utf-8")
RUN_PART, JOB_PART = README.split("## The job file", 1)
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```", RUN_PART, re.MULTILINE | re.DOTALL)
SHOWN = [line for _, block in BLOCKS for line in block.splitlines() if line.startswith(("[", "{"))]


def test_every_kind_of_line_is_shown_and_can_be_read() -> None:
    rows = [decode_row(line.encode()) for line in SHOWN if line.startswith("[")]
    entries = [decode_entry(line.encode()) for line in SHOWN if line.startswith("{")]
    assert len(rows) == 3
    assert {type(entry) for entry in entries} == set(Entry.__args__)
    assert f"**format version {FORMAT_VERSION}**" in README


def test_every_kind_of_line_of_a_job_is_shown_and_can_be_read(tmp_path: Path) -> None:
    shown = [line for line in JOB_PART.splitlines() if line.startswith("{")]
    assert {json.loads(line)["entry"] for line in shown} == {
        kind.__struct_config__.tag for kind in JobLine.__args__
    }
    path = tmp_path / "cart.jsonl"
    path.write_text("\n".join(shown) + "\n", "utf-8")
    journal = read_journal(path)
    assert journal.troubles == ()
    assert len(journal.lines) == len(shown)


def test_every_quality_is_in_the_table() -> None:
    table = dict(re.findall(r"^\| (\d+) \| ([a-z ]+) \|", README, re.MULTILINE))
    assert table == {str(int(quality)): quality.words for quality in Quality}


def test_every_sample_is_named_and_whole() -> None:
    samples = sorted(FOLDER.glob("*.jsonl"))
    named = re.findall(r"^\| `(.+\.jsonl)` \|", README, re.MULTILINE)
    assert sorted(named) == [sample.name for sample in samples]
    assert len(samples) >= 3
    for sample in samples:
        assert read_recording(sample).complete


def test_the_python_lines_read_a_recording(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record(tmp_path / "run.jsonl", readings(6))
    monkeypatch.chdir(tmp_path)
    (code,) = (block for language, block in BLOCKS if language == "python")
    assert len(code.splitlines()) <= 5
    names: dict[str, object] = {}
    exec(code, names)
    assert names["good"] == [(0.0, 20.5), (0.2, 20.75), (0.4, 21.0)]


def test_the_shell_lines_read_a_recording(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", readings(6))
    commands = [block.strip() for language, block in BLOCKS if not language and "run.jsonl" in block]
    digest, awk = commands
    if shutil.which("awk") is None or shutil.which("sha256sum") is None:
        pytest.skip("this system has no awk or no sha256sum")
    told = [
        subprocess.run(command, shell=True, cwd=tmp_path, capture_output=True, text=True, check=True).stdout
        for command in (digest, awk)
    ]
    close = read_recording(path).close
    assert isinstance(close, CloseEntry)
    assert told[0].split()[0] == close.digest.removeprefix("sha256:")
    assert told[0].split()[0] == hashlib.sha256(b"".join(path.read_bytes().splitlines(True)[:-1])).hexdigest()
    assert told[1].splitlines() == ["0.000000 20.5", "0.200000 20.75", "0.400000 21.0"]
