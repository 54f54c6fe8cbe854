"""Whatever stands in a file from a stranger: one sentence at most, in time, and nothing that does harm.

No traceback; nothing over a second, of the clock or of the processor; memory bounded by the file; no file beside the
named output, be it in the folder, above it or in the user's own; no control character on the screen, no formula in the
CSV, no script in the page, no waiting for a pipe, no warning. And a sound file gets its answer, its CSV and its page.
"""

from __future__ import annotations

import csv
import os
import random
import tempfile
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from daq.export.aligned_csv import export_aligned
from tests.faults.ground import Ground, held_to_time
from tests.faults.memory import MOST, costs
from tests.faults.mutations import hurt
from tests.faults.strangers import (
    FORMULA_STARTS,
    KINDS,
    Kind,
    faults_of,
    faults_with_a_pipe,
    formulas_in,
    outputs_of,
    scripts_in,
    seeds,
    tried,
    unfit_characters,
)
from tests.faults.targets import TARGETS, seeds_of, sound_seeds_of

OPENS_NO_TERMINAL = True

_EXAMPLES = {"recording": 5, "report": 1, "listed": 2, "job page": 1}
_PAGES = {"report", "job page"}
"""They take longest, and are given what is sound, and the file whose every text tries to run something."""
_CELLS = {"recording": 149 * 9}
"""So many there are at least in the CSV of a sound file."""
_TAGS = {"report": 500, "job page": 200}
"""And so many tags in its page."""
every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path


@every_kind
def test_the_corpus_does_no_harm(kind: Kind, folder: Path) -> None:
    sound = seeds(kind.name, sound=True)
    found = [
        data for data in seeds(kind.name) if kind.name not in _PAGES or data in sound or b"<script>" in data
    ]
    assert len(found) > len(sound) >= 2
    for data in found:
        done = tried(kind, data, folder)
        assert done.faults == []
        if data in sound or kind.in_cards_folder:
            assert done.statuses == [0] * len(kind.commands)
            assert done.made == {name for command in kind.commands for name in outputs_of(command)}
            assert done.cells >= _CELLS.get(kind.name, 0)
            assert done.tags >= _TAGS.get(kind.name, 0)
        elif kind.name in _PAGES:
            assert done.quoted >= 20, "the script that was in the file is not told at all"


@every_kind
def test_nobody_waits_for_a_pipe_in_a_files_place(kind: Kind, folder: Path) -> None:
    assert faults_with_a_pipe(kind, folder) == []


def test_a_command_takes_no_more_memory_than_a_multiple_of_the_file(tmp_path: Path) -> None:
    """Those that take most, on the shortest lines there can be; ``python -m tests.faults fuzz`` measures them all."""
    found = costs(tmp_path, MOST)
    assert [cost.command.split()[0] for cost in found] == ["replay", "export", "import", "job", "job"]
    for cost in found:
        assert cost.size_mb > 1.0
        assert cost.within, cost


def test_a_reader_that_keeps_copies_of_a_recording_takes_more_than_that(tmp_path: Path) -> None:
    (cost,) = costs(tmp_path, ["recording:1:usual"], size_mb=8.0, hoard=True)
    assert not cost.within, cost


@every_kind
def test_a_hurt_file_does_no_harm(kind: Kind, folder: Path) -> None:
    @settings(
        max_examples=_EXAMPLES.get(kind.name, 12),
        deadline=None,
        database=None,
        phases=[Phase.generate],  # a smaller seed is no smaller file
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 2**32))
    def hold(seed: int) -> None:
        rng = random.Random(seed)
        data = hurt(rng.choice(seeds(kind.name)), rng, rng.randint(1, 4))
        assert faults_of(kind, data, folder) == []

    hold()


@pytest.mark.parametrize("target", ["remembered", "cards_folder", "card"])
def test_a_hurt_file_of_ones_own_does_no_harm(target: str) -> None:
    @settings(
        max_examples=15,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 2**32))
    def hold(seed: int) -> None:
        rng = random.Random(seed)
        TARGETS[target](hurt(rng.choice(seeds_of(target)), rng, rng.randint(1, 4)))

    taken = [data for data in seeds_of(target) if TARGETS[target](data)]
    assert set(taken) >= set(sound_seeds_of(target))
    hold()


@pytest.mark.parametrize("start", FORMULA_STARTS, ids=ascii)
@pytest.mark.parametrize("rest", ["SUM(1)", 'x,"y"', "1_0", ""], ids=ascii)
def test_the_look_sees_a_formula_and_an_export_has_none(tmp_path: Path, start: str, rest: str) -> None:
    import pandas as pd

    raw, exported = tmp_path / "raw.csv", tmp_path / "exported.csv"
    with raw.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerow(["fine", -1.5, "-0.25", "1e-07", start + rest])
    assert formulas_in(raw) == [start + rest]
    frame = pd.DataFrame({"fine": [-1.5], start + rest: [start + rest]})
    export_aligned(frame, exported, {}, force=False)
    assert formulas_in(exported) == []


def test_the_look_sees_what_no_screen_may_get() -> None:
    assert unfit_characters("fine ± 20 °C\n") == []
    assert unfit_characters("a\x1b[2J \x9b31m \u202e\t") == ["\x1b", "\x9b", "\u202e", "\t"]


@pytest.mark.parametrize(
    "tag",
    [
        "<b onclick=x>",
        "<img src=y OnError = x>",
        "<a href='javascript:x'>",
        '<a class="a" href=" javascript:x">',
        "<script>alert(1)",
    ],
)
def test_the_look_sees_what_runs_in_a_page(tag: str) -> None:
    assert scripts_in("<p>onclick=x &lt;script&gt;alert <a href='#javascript'>") == []
    assert len(scripts_in(f"<p>{tag}</p>")) == 1


def test_the_look_sees_what_is_written_anywhere_near(folder: Path) -> None:
    """Above the folder, at home, among what is passing, and over what was there; not what was named, nor the cache."""
    command = ("recordings", "out.csv")
    ground = Ground(folder)
    (ground.here / "odd.csv").write_text("a", "utf-8")
    (ground.here / "gone").write_text("a", "utf-8")
    before = ground.known()
    cache = ground.places / "spinvolt_cache" / "results"
    cache.mkdir(parents=True)
    for path in (cache / "a.result", ground.here / "out.csv"):
        path.write_text("fine", "utf-8")
    assert ground.strays(before, command, ["out.csv"]) == []
    for path in (folder / "a", ground.here / "../b", ground.places / "c", ground.here / "odd.csv"):
        path.write_text("b", "utf-8")
    (ground.here / "gone").unlink()
    (ground.here / "empty").mkdir()
    assert ground.strays(before, command, ["out.csv"]) == [
        "a",
        "outer/b",
        "outer/here-places/c",
        "outer/here/empty",
        "outer/here/gone",
        "outer/here/odd.csv",
    ]
    ground.clear()
    assert list(folder.iterdir()) == []


def test_what_a_command_takes_for_the_users_own_is_known_ground(folder: Path) -> None:
    ground = Ground(folder)
    before = tempfile.gettempdir()
    with ground.entered():
        own = [Path.home(), Path("~/x").expanduser(), Path(tempfile.gettempdir()), Path.cwd()]
        own += [Path(value) for name, value in os.environ.items() if name.startswith(("XDG_", "SPINVOLT_"))]
    assert len(own) >= 4 + 8
    assert [path for path in own if not path.is_relative_to(folder)] == []
    assert tempfile.gettempdir() == before


@pytest.mark.parametrize("work", ["sleep", "compute"])
def test_the_look_sees_what_takes_long(work: str) -> None:
    act = {"sleep": time.sleep, "compute": _compute}[work]
    with held_to_time(0.02) as slow:
        act(0.05)
    with held_to_time(20.0) as quick:
        act(0.001)
    assert (len(slow), quick) == (1, [])


def _compute(seconds: float) -> None:
    end_s = time.process_time() + seconds
    while time.process_time() < end_s:
        pass
