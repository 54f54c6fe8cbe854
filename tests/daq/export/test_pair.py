"""A CSV and its description take their places together: what a signal or a kill in between leaves is never false."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.export.pair import replacing_pair

_NAMES = ["p.csv", "p.csv-metadata.json"]
_CHILD = """
import os, signal, sys
from pathlib import Path
from daq.export import pair

class Renaming:
    done = 0
    def replace(self, old, new):
        os.replace(old, new)
        self.done += 1
        if self.done == int(sys.argv[1]):
            os.kill(os.getpid(), int(sys.argv[2]))
    def __getattr__(self, name):
        return getattr(os, name)

pair.os = Renaming()
try:
    with pair.replacing_pair(Path("p.csv"), Path("p.csv-metadata.json"), force=True) as drafts:
        for draft in drafts:
            draft.write_text("new")
except KeyboardInterrupt:
    print("interrupted")
"""
needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="kills one process, and sends it signals")


def _write(folder: Path, text: str) -> None:
    for name in _NAMES:
        (folder / name).write_text(text)


def _found(folder: Path) -> dict[str, str]:
    return {each.name: each.read_text() for each in folder.iterdir() if not each.name.endswith(".part")}


def _hit(folder: Path, after: int, number: signal.Signals) -> str:
    """Change a pair in a process that sends itself a signal after so many renames."""
    command = [sys.executable, "-c", _CHILD, str(after), str(int(number))]
    done = subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
    )
    return done.stdout


@needs_posix
@pytest.mark.parametrize("after", [1, 2, 3])
def test_a_kill_between_leaves_no_description_that_is_false(tmp_path: Path, after: int) -> None:
    _write(tmp_path, "old")
    _hit(tmp_path, after, signal.SIGKILL)
    found = _found(tmp_path)
    assert found["p.csv"] == ("old" if after == 1 else "new")
    assert found.get("p.csv-metadata.json", "none") == ("new" if after == 3 else "none")
    with replacing_pair(tmp_path / "p.csv", tmp_path / "p.csv-metadata.json", force=True) as drafts:
        for draft in drafts:
            draft.write_text("newer")
    assert sorted(os.listdir(tmp_path)) == _NAMES, "what the kill left is cleared away"


@needs_posix
@pytest.mark.parametrize("after", [1, 2, 3])
def test_an_interruption_between_comes_when_both_are_new(tmp_path: Path, after: int) -> None:
    _write(tmp_path, "old")
    assert _hit(tmp_path, after, signal.SIGINT) == "interrupted\n"
    assert _found(tmp_path) == dict.fromkeys(_NAMES, "new")
    assert sorted(os.listdir(tmp_path)) == _NAMES


def _write_then(folder: Path, stop: type[BaseException]) -> None:
    with replacing_pair(folder / "p.csv", folder / "p.csv-metadata.json", force=True) as (draft, _):
        draft.write_text("half")
        raise stop


@pytest.mark.parametrize("stop", [KeyboardInterrupt, ValueError])
def test_a_body_that_ends_badly_leaves_both_as_they_were(tmp_path: Path, stop: type[BaseException]) -> None:
    _write(tmp_path, "old")
    with pytest.raises(stop):
        _write_then(tmp_path, stop)
    assert _found(tmp_path) == dict.fromkeys(_NAMES, "old")
    assert sorted(os.listdir(tmp_path)) == _NAMES


def test_where_the_file_can_not_be_replaced_its_description_stays(tmp_path: Path) -> None:
    _write(tmp_path, "old")

    def change() -> None:
        with replacing_pair(tmp_path / "p.csv", tmp_path / "p.csv-metadata.json", force=True) as drafts:
            for draft in drafts:
                draft.write_text("new")
            (tmp_path / "p.csv").unlink()
            (tmp_path / "p.csv").mkdir()  # by another, in mid-writing

    with pytest.raises(OutputError, match=r"p\.csv can't be written"):
        change()
    assert (tmp_path / "p.csv-metadata.json").read_text() == "old"
    assert sorted(os.listdir(tmp_path)) == _NAMES
