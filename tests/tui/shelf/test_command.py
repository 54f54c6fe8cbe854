"""``spinvolt recordings`` without a terminal, and the pictures of the screens around it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest

from tests.tui.program import spinvolt_here
from tui.pictures.__main__ import RECORDINGS, draw_screen
from tui.pictures.screens import SCREENS

SWEEP = Path(__file__).parents[3] / "recordings" / "healthy-sweep.jsonl"


def test_a_line_for_each_recording(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "recordings"
    folder.mkdir()
    shutil.copy(SWEEP, folder / "good.jsonl")
    (folder / "diary.jsonl").write_text("a diary\n")
    ran = spinvolt_here("recordings", folder=tmp_path, capsys=capsys)
    assert ran.status == 0
    lines = sorted(ran.out.splitlines())
    assert len(lines) == 2
    assert "27.58 V ± 0.13 V, meets its limit, closed: good.jsonl" in lines[0]
    assert lines[1].startswith("diary.jsonl: unreadable. diary.jsonl is no spinvolt recording")
    (entry,) = (tmp_path / "spinvolt_cache" / "results").iterdir()
    assert sorted(path.name for path in folder.iterdir()) == ["diary.jsonl", "good.jsonl"]
    os.utime(entry, (0, 0))
    again = spinvolt_here("recordings", folder=tmp_path, capsys=capsys)
    assert again.out == ran.out
    assert entry.stat().st_mtime > 0, "taken from there, and so counted as new"


def test_an_empty_folder_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ran = spinvolt_here("recordings", "nowhere", folder=tmp_path, capsys=capsys)
    assert (ran.status, ran.out) == (0, "No recordings are in nowhere yet.\n")


def test_a_folder_that_is_none_is_told_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    ran = spinvolt_here("recordings", "file", folder=tmp_path, capsys=capsys)
    assert ran.status == 1
    assert ran.err == "file can't be read: Not a directory.\n"


def test_the_screens_pictures_can_be_made_and_are_there() -> None:
    assert all((RECORDINGS / "pictures" / f"{picture.name}.svg").exists() for picture in SCREENS)
    (compare,) = (picture for picture in SCREENS if picture.name == "compare")
    root = ElementTree.fromstring(draw_screen(compare))
    texts = {element.text for element in root.iter() if element.text}
    assert "The verdict went from fail to pass." in texts
    assert str(Path.cwd()) not in " ".join(texts)
