"""The job file: whatever happens to it, what is whole is kept, and what is not is named."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.errors import JobError, OutputError
from daq.job.file.entries import JobEntry, JobLine, MachineLine, NoteLine
from daq.job.file.hold import Hold
from daq.job.file.journal import create_journal, encoded, read_journal

HEAD = JobEntry(program="spinvolt test", started_utc="2026-03-02T09:00:00Z")
MACHINE = MachineLine(utc="2026-03-02T09:00:00Z", card={"name": "x", "title": "y", "rated_speed_rpm": 3600})
NOTE = NoteLine(utc="2026-03-02T09:05:00Z", text="oil was low")


def append_lines(path: Path, lines: Sequence[JobLine]) -> None:
    with Hold(path) as hold:
        hold.append(lines)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "job.jsonl"
    create_journal(path, [HEAD, MACHINE])
    append_lines(path, [NOTE])
    return path


def test_lines_come_back_as_they_went(file: Path) -> None:
    journal = read_journal(file)
    assert [line for _, line in journal.lines] == [HEAD, MACHINE, NOTE]
    assert [number for number, _ in journal.lines] == [1, 2, 3]
    assert journal.troubles == ()
    assert journal.head == HEAD


def test_a_file_that_is_there_is_not_replaced_unless_asked(file: Path) -> None:
    before = file.read_bytes()
    with pytest.raises(OutputError, match="exists already"):
        create_journal(file, [HEAD, MACHINE])
    assert file.read_bytes() == before
    create_journal(file, [HEAD, MACHINE], force=True)
    assert len(read_journal(file).lines) == 2


def test_cut_off_anywhere_it_opens_with_all_its_whole_lines(file: Path, tmp_path: Path) -> None:
    data = file.read_bytes()
    ends = [i + 1 for i, byte in enumerate(data) if byte == 10]
    cut = tmp_path / "cut.jsonl"
    for length in range(ends[0], len(data) + 1):
        cut.write_bytes(data[:length])
        whole = sum(end <= length for end in ends)
        # A line that lacks nothing but its end can still be read only when the next one ends it.
        assert len(read_journal(cut).lines) == whole
        assert bool(read_journal(cut).troubles) == (length not in ends)


def test_after_a_crash_in_mid_line_the_next_line_is_whole(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:-5])
    append_lines(file, [NOTE])
    journal = read_journal(file)
    assert journal.lines[-1][1] == NOTE
    assert len(journal.troubles) == 1
    assert "Line 3 of job.jsonl can't be understood" in journal.troubles[0].text
    assert "kept, not judged" in journal.troubles[0].text


@pytest.mark.parametrize(
    "line",
    [
        b"nonsense",
        b"{}",
        b"[1,2]",
        b'{"entry":"gremlin"}',
        b'{"entry":"note"}',
        b'{"entry":"note","utc":7,"text":"x"}',
        b"\xff\xfe\x00",
        b"[" * 2000,
        b'{"entry":"job","version":1,"program":"x","started_utc":"x"}',
    ],
)
def test_a_spoiled_line_spoils_itself_only(line: bytes, file: Path) -> None:
    file.write_bytes(file.read_bytes() + line + b"\n")
    append_lines(file, [NOTE])
    journal = read_journal(file)
    assert [each for _, each in journal.lines] == [HEAD, MACHINE, NOTE, NOTE]
    assert [trouble.line for trouble in journal.troubles] == [4]
    assert line in file.read_bytes()


def test_junk_is_counted_and_told_once(file: Path) -> None:
    """However much of it there is; what stands between counts."""
    junk = [b"x", b"", b"  ", b"x" * 34, b"y" * 60, b"{}", NONE, b"[1]"] * 5000
    file.write_bytes(file.read_bytes() + b"\n".join(junk) + b"\n")
    append_lines(file, [NOTE])
    journal = read_journal(file)
    assert [each for _, each in journal.lines] == [HEAD, MACHINE, NOTE, *[EMPTY] * 5000, NOTE]
    (told,) = journal.troubles
    assert (told.line, told.count) == (4, 25_000)
    assert told.text.startswith(
        "25000 lines of job.jsonl are kept, not judged, the first in line 4: it can't be understood (JSON is malformed"
    )


NONE = b'{"entry":"note","utc":"","text":""}'
"""The shortest line that says something, though it is nothing."""
EMPTY = NoteLine(utc="", text="")


def test_each_kind_of_fault_is_told_by_itself(file: Path) -> None:
    head = file.read_bytes().partition(b"\n")[0]
    lines = [b"x", b"x", head, head, head, b"z" * (1 << 20) + b"z", b"x", b"x" * 10]
    file.write_bytes(file.read_bytes() + b"\n".join(lines))
    assert [(each.line, each.count) for each in read_journal(file).troubles] == [
        (4, 3),
        (6, 3),
        (9, 1),
        (11, 1),
    ]
    said = [each.text for each in read_journal(file).troubles]
    assert said[1] == "3 lines of job.jsonl are left aside, the first in line 6: it begins a second job."
    assert said[2] == "Line 9 of job.jsonl is longer than 1 MiB. It is kept, not judged."
    assert said[3] == "Line 11 of job.jsonl was cut off while it was written. It is kept, not judged."


def test_a_line_may_have_a_mebibyte_and_no_more(file: Path) -> None:
    before = file.read_bytes()
    for more, kept in ((0, 1), (1, 0)):
        text = "x" * ((1 << 20) - len(encoded([EMPTY])) + len(b"\n") + more)
        file.write_bytes(before + encoded([NoteLine(utc="", text=text)]))
        journal = read_journal(file)
        assert [line.text for _, line in journal.lines[3:] if isinstance(line, NoteLine)] == [text] * kept
        assert ["longer than 1 MiB" in each.text for each in journal.troubles] == [True] * (1 - kept)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b"\n\n", "is empty"),
        (b"hello\n", "is no job file"),
        (b'{"entry":"session","version":1}\n', "is no job file"),
        (b'{"entry":"job","version":9}\n', "version 9; this spinvolt reads up to version 1"),
        (b'{"entry":"job","version":1}\n', "first line is damaged"),
        (b'{"entry":"job","version":0,"program":"x","started_utc":"x"}\n', "first line is damaged"),
    ],
)
def test_what_is_no_job_file_is_told(data: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    path.write_bytes(data)
    with pytest.raises(JobError, match=said):
        read_journal(path)


def test_missing_folders_and_huge_files(tmp_path: Path) -> None:
    with pytest.raises(JobError, match="There is no job file gone.jsonl"):
        read_journal(tmp_path / "gone.jsonl")
    with pytest.raises(JobError, match="no ordinary file"):
        read_journal(tmp_path)
    huge = tmp_path / "huge.jsonl"
    with huge.open("wb") as handle:
        handle.truncate(65 * 1024 * 1024)
    with pytest.raises(JobError, match="larger than 64 MiB"):
        read_journal(huge)


def test_a_pipe_is_told_and_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jsonl")
    with pytest.raises(JobError, match="no ordinary file"):
        read_journal(tmp_path / "pipe.jsonl")


@pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="needs /proc as Linux has it")
def test_what_the_system_makes_up_is_told_and_not_read(tmp_path: Path) -> None:
    (tmp_path / "job.jsonl").symlink_to("/proc/self/pagemap")
    with pytest.raises(JobError, match="no ordinary file"):
        read_journal(tmp_path / "job.jsonl")


def test_a_file_that_vanished_is_not_made_anew_by_a_line(tmp_path: Path) -> None:
    with pytest.raises(OutputError):
        append_lines(tmp_path / "gone.jsonl", [NOTE])
    assert not os.listdir(tmp_path)


@settings(max_examples=150)
@given(st.lists(st.binary(max_size=60), max_size=6))
def test_any_bytes_after_the_first_line_never_fail(
    tmp_path_factory: pytest.TempPathFactory, lines: list[bytes]
) -> None:
    path = tmp_path_factory.mktemp("fuzz") / "job.jsonl"
    head = json.dumps({"entry": "job", "version": 1, "program": "x", "started_utc": "x"}).encode()
    path.write_bytes(b"\n".join([head, *lines]))
    journal = read_journal(path)
    assert journal.lines[0][1] == JobEntry(program="x", started_utc="x")
