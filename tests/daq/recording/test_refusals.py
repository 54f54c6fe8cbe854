"""What a person is told of files that can't be opened or written, by the system's own reason."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from daq.errors import OutputError, RecordingError
from daq.output import check_free, output_error
from daq.recording.entries import SessionEntry
from daq.recording.lines import encode_lines
from daq.recording.opening import check_first_line, open_error, utc_of
from daq.recording.own_file import Written, is_removed, name_of, new_file
from daq.recording.reader import read_recording


def _errno(number: int) -> OSError:
    return OSError(number, os.strerror(number))


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOENT, "There is no recording run.jsonl in cart."),
        (errno.EISDIR, "run.jsonl is a folder, not a recording."),
        (errno.EACCES, "You may not read run.jsonl: permission denied."),
        (errno.EIO, "run.jsonl can't be read: Input/output error."),
    ],
)
def test_a_recording_that_can_not_be_opened_is_told_by_the_reason(number: int, told: str) -> None:
    assert str(open_error(Path("cart/run.jsonl"), _errno(number))) == told


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.ENOSPC, "The disk is full: run.csv was not written."),
        (errno.EDQUOT, "The disk is full: run.csv was not written."),
        (errno.EFBIG, "it would be larger than a file may be here."),
        (errno.EROFS, "You may not write run.csv in cart: Read-only file system."),
        (errno.EIO, "run.csv can't be written: Input/output error."),
    ],
)
def test_a_file_that_can_not_be_written_is_told_by_the_reason(number: int, told: str) -> None:
    assert told in str(output_error(Path("cart/run.csv"), _errno(number)))


def test_what_is_no_ordinary_file_is_never_written_over(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(OutputError, match="pipe is no ordinary file and is not replaced"):
        check_free(pipe, force=True)


def test_a_name_too_long_for_the_disk_is_told(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="can't be written: File name too long"):
        check_free(tmp_path / ("x" * 300), force=False)
    with pytest.raises(RecordingError, match="can't be read: File name too long"):
        read_recording(tmp_path / ("x" * 300))


def test_a_first_line_that_is_some_other_entry_is_no_recording() -> None:
    with pytest.raises(RecordingError, match="its first line is not a session line"):
        check_first_line(b'{"entry":"mark","version":2,"t_ns":0,"text":"a"}\n', Path("run.jsonl"))


def test_a_first_line_with_too_little_in_it_is_damaged() -> None:
    with pytest.raises(RecordingError, match="its first line is damaged"):
        check_first_line(b'{"entry":"session","version":2}\n', Path("run.jsonl"))


def test_a_first_line_that_is_still_being_written_is_waited_for() -> None:
    line = encode_lines([SessionEntry(program="p", started_utc="2026-04-02T09:30:00Z", source="run")])
    for cut in (0, 5, 18, len(line) - 1):
        assert check_first_line(line[:cut], Path("run.jsonl")) is None
    assert check_first_line(line, Path("run.jsonl")) == 1000


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("2026-04-02T11:30:00+02:00", datetime(2026, 4, 2, 9, 30, tzinfo=UTC)),
        ("2026-04-02T09:30:00", None),
        ("1969-12-31T23:59:59Z", None),
        ("2200-01-01T00:00:00Z", None),
        ("yesterday", None),
    ],
)
def test_a_start_is_a_time_with_its_zone_in_our_era(text: str, found: datetime | None) -> None:
    assert utc_of(SessionEntry(program="p", started_utc=text, source="run")) == found


def test_a_removed_file_is_put_back_whole_with_its_folder(tmp_path: Path) -> None:
    path = tmp_path / "runs" / "run.jsonl"
    path.parent.mkdir()
    content = os.urandom(3 * 1024 * 1024 + 7)
    path.write_bytes(content)
    written = Written()
    written.add(content, 0)
    fd = os.open(path, os.O_RDWR)
    try:
        assert not is_removed(fd)
        path.unlink()
        path.parent.rmdir()
        assert is_removed(fd)
        assert _copied(written, fd, path) == (path, True)
        assert path.read_bytes() == content
        assert _copied(written, fd, path) == (path.with_name("run-2.jsonl"), True)
        os.truncate(fd, 1000)
        assert _copied(written, fd, path) == (path.with_name("run-3.jsonl"), False)
        assert path.read_bytes() == path.with_name("run-2.jsonl").read_bytes() == content
    finally:
        os.close(fd)


def test_a_file_whose_name_was_removed_is_removed_even_where_it_has_another(tmp_path: Path) -> None:
    path, backup = tmp_path / "run.jsonl", tmp_path / "backup.jsonl"
    fd = os.open(path, os.O_RDWR | os.O_CREAT)
    try:
        backup.hardlink_to(path)
        assert not is_removed(fd)
        path.unlink()
        assert is_removed(fd)
        path.hardlink_to(backup)
        assert not is_removed(fd)
        path.unlink()
        assert is_removed(fd)
    finally:
        os.close(fd)


def test_a_name_that_ends_like_a_removed_one_is_a_name(tmp_path: Path) -> None:
    path = tmp_path / "run (deleted)"
    fd = os.open(path, os.O_RDWR | os.O_CREAT)
    try:
        (tmp_path / "backup.jsonl").hardlink_to(path)
        assert (is_removed(fd), name_of(fd)) == (False, path)
        path.unlink()
        assert (is_removed(fd), name_of(fd)) == (True, None)
    finally:
        os.close(fd)


def _copied(written: Written, fd: int, path: Path) -> tuple[Path, bool]:
    whole: list[bool] = []
    new, name = new_file(path, lambda to: whole.append(written.copied(fd, to)))
    os.close(new)
    return name, whole[0]


def test_a_folder_that_is_a_file_now_is_told(tmp_path: Path) -> None:
    (tmp_path / "runs").write_text("precious")
    with pytest.raises(OutputError, match="can't be put back into .*runs .*give the folder back"):
        new_file(tmp_path / "runs" / "run.jsonl", lambda _: None)


def test_a_file_that_can_not_be_put_back_whole_leaves_no_half(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    written = Written()
    written.add(b"{}\n", 0)
    fd = os.open(path, os.O_WRONLY | os.O_CREAT)  # what can't be read can't be copied either
    try:
        os.write(fd, b"{}\n")
        path.unlink()
        with pytest.raises(OutputError, match="give the folder back"):
            _copied(written, fd, path)
        assert not path.exists()
    finally:
        os.close(fd)
