"""Results that are kept: never another's, never an old one, and never a broken one."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import msgspec
import pytest

import tui.shelf.cache
from daq.recording.entries import SessionEntry
from daq.recording.writer import RecordingWriter
from tui.shelf.cache import ResultCache, cache_folder
from tui.shelf.folder import list_folder
from tui.shelf.summary import Summary, summarise

SWEEP = Path(__file__).parents[3] / "recordings" / "healthy-sweep.jsonl"


@pytest.fixture(scope="module")
def right() -> Summary:
    """What the sample's result is."""
    return summarise(SWEEP)


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch, right: Summary) -> list[Path]:
    """The recordings that were worked out and not taken from the cache; those of the sample, at once."""
    asked: list[Path] = []

    def counting(path: Path, progress: object = None) -> Summary:
        asked.append(path)
        same = path.exists() and path.read_bytes() == SWEEP.read_bytes()
        return msgspec.structs.replace(right, path=str(path)) if same else summarise(path)

    monkeypatch.setattr(tui.shelf.cache, "summarise", counting)
    return asked


@pytest.fixture
def run(tmp_path: Path) -> Path:
    (tmp_path / "runs").mkdir()
    return Path(shutil.copy(SWEEP, tmp_path / "runs" / "run.jsonl"))


def kept(folder: Path) -> list[Path]:
    return sorted(folder.iterdir()) if folder.exists() else []


def test_it_is_worked_out_once_also_by_the_next_program(
    tmp_path: Path, run: Path, right: Summary, worked_out: list[Path]
) -> None:
    folder = tmp_path / "deep" / "cache"
    first = ResultCache(folder).summary(run)
    moved = Path(shutil.move(run, run.with_name("other.jsonl")))
    again = ResultCache(folder).summary(moved)
    assert worked_out == [run]
    assert first == msgspec.structs.replace(right, path=str(run))
    assert again == msgspec.structs.replace(right, path=str(moved))
    assert [path.name for path in moved.parent.iterdir()] == ["other.jsonl"], "nothing beside the recordings"


def test_a_changed_recording_is_another_one_whatever_its_date_and_size(
    tmp_path: Path, run: Path, worked_out: list[Path]
) -> None:
    cache, state = ResultCache(tmp_path / "cache"), run.stat()
    assert cache.summary(run).state == "closed"
    run.write_bytes(run.read_bytes().replace(b"Sprayer", b"SPRAYER", 1))
    os.utime(run, ns=(state.st_atime_ns, state.st_mtime_ns))
    assert cache.summary(run).state == "changed"
    assert len(worked_out) == 2


def test_another_program_works_it_out_anew(tmp_path: Path, run: Path, worked_out: list[Path]) -> None:
    for program in (b"1", b"2", b"1"):
        ResultCache(tmp_path / "cache", program=program).summary(run)
    assert len(worked_out) == 2


def test_what_has_no_end_is_judged_each_time(tmp_path: Path, worked_out: list[Path]) -> None:
    cache, now = ResultCache(tmp_path / "cache"), tmp_path / "now.jsonl"
    session = SessionEntry(program="test", started_utc="2026-03-14T09:00:00Z", source="run")
    with RecordingWriter.create(now, session, force=False) as writer:
        writer.flush()
        assert cache.summary(now).state == "going_on"
    shutil.copy(now, tmp_path / "cut.jsonl")
    assert cache.summary(tmp_path / "cut.jsonl").state == "cut_off"
    assert cache.summary(tmp_path / "nowhere.jsonl").state == "unreadable"
    assert kept(tmp_path / "cache") == []
    assert len(worked_out) == 3


@pytest.mark.parametrize(
    "broken",
    [b"", b"\n", b"{}", b"\x00" * 50, b"x" * 3_000_000, b"digest\n{}"],
    ids=lambda data: str(len(data)),
)
def test_a_broken_entry_is_worked_out_anew_and_mended(
    tmp_path: Path, run: Path, worked_out: list[Path], broken: bytes
) -> None:
    cache = ResultCache(tmp_path / "cache")
    whole = cache.summary(run)
    (entry,) = kept(tmp_path / "cache")
    good = entry.read_bytes()
    for spoiled in (broken, good[:-5], good.replace(b"pass", b"fail")):
        entry.write_bytes(spoiled)
        assert cache.summary(run) == whole
        assert entry.read_bytes() == good
    assert len(worked_out) == 4


def test_a_folder_in_the_way_or_none_to_be_had_costs_nothing_but_time(
    tmp_path: Path, run: Path, worked_out: list[Path]
) -> None:
    (tmp_path / "file").touch()
    cache = ResultCache(tmp_path / "file" / "cache")
    assert cache.summary(run) == cache.summary(run)
    there = ResultCache(tmp_path / "cache")
    there.summary(run)
    (entry,) = kept(tmp_path / "cache")
    entry.unlink()
    entry.mkdir()
    assert there.summary(run).state == "closed"
    assert kept(tmp_path / "cache") == [entry], "no half entry is left"
    assert len(worked_out) == 4


def test_so_many_are_kept_and_those_asked_for_last(tmp_path: Path, worked_out: list[Path]) -> None:
    cache = ResultCache(tmp_path / "cache", most=3)
    names = "abcd"
    for at, name in enumerate(names):
        path = tmp_path / f"{name}.jsonl"
        path.write_bytes(SWEEP.read_bytes().replace(b"Sprayer", b"Spraye" + name.encode(), 1))
        before = set(kept(tmp_path / "cache"))
        cache.summary(path)
        for entry in set(kept(tmp_path / "cache")) - before:
            os.utime(entry, (at, at))
        cache.summary(tmp_path / "a.jsonl")
    assert len(kept(tmp_path / "cache")) == 3
    asked = len(worked_out)
    assert asked == 4, "the one that was asked for again and again has stayed"
    for name in "acd":
        cache.summary(tmp_path / f"{name}.jsonl")
    assert len(worked_out) == asked
    cache.summary(tmp_path / "b.jsonl")
    assert len(worked_out) == asked + 1


def test_the_folder_is_the_users_cache(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SPINVOLT_CACHE", str(tmp_path))
    assert cache_folder() == tmp_path / "results"
    monkeypatch.delenv("SPINVOLT_CACHE")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert cache_folder().name == "results"
    assert "spinvolt" in cache_folder().parts


@pytest.mark.skipif(not Path("/proc/self/pagemap").exists(), reason="needs /proc as Linux has it")
def test_what_has_no_end_is_told_and_not_read(tmp_path: Path) -> None:
    """A file that the system makes up as it is read: 256 GiB of it here, though it says that it has no size."""
    link = tmp_path / "run.jsonl"
    link.symlink_to("/proc/self/pagemap")
    assert [found.path for found in list_folder(tmp_path)] == [link]
    told = ResultCache(tmp_path / "cache").summary(link)
    assert told.problems == ["run.jsonl is no ordinary file and can't be a recording."]


def test_of_what_is_no_recording_only_the_beginning_is_read(tmp_path: Path) -> None:
    large = tmp_path / "run.jsonl"
    with large.open("wb") as file:
        file.truncate(1 << 43)  # 8 TiB of nothing, which take no room
    told = ResultCache(tmp_path / "cache").summary(large)
    assert told.problems[0].startswith("run.jsonl is no spinvolt recording")
