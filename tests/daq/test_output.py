from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from daq.errors import OutputError
from daq.output import replacing


def test_the_file_appears_when_the_body_ends_well_and_not_before(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    with replacing(target, force=False) as draft:
        draft.write_text("rows")
        assert draft.parent == target.parent
        assert not target.exists()
    assert target.read_text() == "rows"
    assert os.listdir(tmp_path) == ["out.csv"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, SystemExit, ValueError])
def test_a_body_that_ends_badly_leaves_everything_as_it_was(
    tmp_path: Path, stop: type[BaseException]
) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")

    def write_half() -> None:
        with replacing(target, force=True) as draft:
            draft.write_text("half")
            raise stop

    with pytest.raises(stop):
        write_half()
    assert target.read_text() == "old"
    assert os.listdir(tmp_path) == ["out.csv"]


def test_what_is_there_is_replaced_with_force_alone(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    target.write_text("old")
    with pytest.raises(OutputError, match="exists already; add --force"), replacing(target, force=False):
        pytest.fail("the body may not run")
    with replacing(target, force=True) as draft:
        draft.write_text("new")
    assert target.read_text() == "new"


def test_a_place_that_can_not_be_written_is_told_before_the_work(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path, words in (
        (tmp_path / "gone" / "out.csv", "There is no folder"),
        (tmp_path, "is a folder"),
        (tmp_path / "pipe", "no ordinary file"),
    ):
        with pytest.raises(OutputError, match=words), replacing(path, force=True):
            pytest.fail("the body may not run")


def test_a_link_that_leads_nowhere_counts_as_something_that_is_there(tmp_path: Path) -> None:
    (tmp_path / "out.csv").symlink_to(tmp_path / "nowhere")
    with pytest.raises(OutputError, match="--force"), replacing(tmp_path / "out.csv", force=False):
        pytest.fail("the body may not run")


def test_a_file_that_may_not_grow_is_told_and_nothing_stays(tmp_path: Path) -> None:
    """A real limit of the operating system, in a process of its own."""
    code = """
import resource, sys
from pathlib import Path
from daq.errors import OutputError
from daq.output import replacing
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, resource.RLIM_INFINITY))
try:
    with replacing(Path(sys.argv[1]), force=True) as draft:
        draft.write_bytes(bytes(5000))
except OutputError as error:
    print(error)
"""
    target = tmp_path / "out.csv"
    target.write_text("old")
    done = subprocess.run(
        [sys.executable, "-c", code, str(target)], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout == "out.csv was not written: it would be larger than a file may be here.\n"
    assert os.listdir(tmp_path) == ["out.csv"]
    assert target.read_text() == "old"
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
