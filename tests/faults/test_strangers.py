"""Whatever stands in a file from a stranger: one sentence at most, in time, and nothing that does harm.

No traceback; nothing over a second of the processor; memory bounded by the file; no file beside the named output; no
control character on the screen, no formula in the CSV, no script in the page, no waiting for a pipe, no warning.
"""

from __future__ import annotations

import csv
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from daq.export.aligned_csv import export_aligned
from tests.faults.memory import MOST, costs
from tests.faults.mutations import hurt
from tests.faults.strangers import (
    FORMULA_STARTS,
    KINDS,
    Kind,
    faults_of,
    faults_with_a_pipe,
    formulas_in,
    seeds,
    unfit_characters,
)
from tests.faults.targets import TARGETS, seeds_of

_EXAMPLES = {"recording": 5, "report": 1, "listed": 2, "job page": 1}
_PAGES = {"report", "job page"}
"""They take longest, and are given the file whose every text tries to run something."""
every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("strangers")


@every_kind
def test_the_corpus_does_no_harm(kind: Kind, folder: Path) -> None:
    found = [data for data in seeds(kind.name) if kind.name not in _PAGES or b"<script>" in data]
    assert len(found) >= (1 if kind.name in _PAGES else 2)
    for data in found:
        assert faults_of(kind, data, folder) == []


@every_kind
def test_nobody_waits_for_a_pipe_in_a_files_place(kind: Kind, folder: Path) -> None:
    assert faults_with_a_pipe(kind, folder) == []


def test_a_command_takes_no_more_memory_than_a_multiple_of_the_file(tmp_path: Path) -> None:
    """Those that take most, on the shortest lines there can be; ``python -m tests.faults fuzz`` measures them all."""
    found = costs(tmp_path, MOST)
    assert [cost.command.split()[0] for cost in found] == ["replay", "export", "import", "job"]
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
    @settings(max_examples=15, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    @given(st.integers(0, 2**32))
    def hold(seed: int) -> None:
        rng = random.Random(seed)
        TARGETS[target](hurt(rng.choice(seeds_of(target)), rng, rng.randint(1, 4)))

    for data in seeds_of(target):
        TARGETS[target](data)
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
