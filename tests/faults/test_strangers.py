"""Whatever stands in a file from a stranger: one sentence at most, in time, and nothing that does harm.

No traceback; nothing over a second of the processor; memory bounded by the file; no file beside the named output; no
control character on the screen, no formula in the CSV, no script in the page.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.faults.mutations import hurt
from tests.faults.strangers import KINDS, Kind, faults_of, seeds, unfit_characters

_EXAMPLES = {"recording": 5, "report": 1}
every_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=KINDS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("strangers")


@every_kind
def test_the_corpus_does_no_harm(kind: Kind, folder: Path) -> None:
    found = seeds(kind.name)
    assert len(found) >= 2
    for data in found[: 1 if kind.name == "report" else None]:
        assert faults_of(kind, data, folder) == []


@every_kind
def test_a_reader_takes_no_more_memory_than_a_multiple_of_the_file(kind: Kind, folder: Path) -> None:
    if kind.name == "report":
        pytest.skip(
            "the drawing of plots takes what it takes, whatever the file holds; its reader is the recording's"
        )
    largest = max(seeds(kind.name), key=len)
    kind = kind._replace(commands=kind.commands[:1])
    assert faults_of(kind, largest + largest.split(b"\n")[-2] * 200, folder, memory=True) == []


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


def test_the_look_sees_what_no_screen_may_get() -> None:
    assert unfit_characters("fine ± 20 °C\n") == []
    assert unfit_characters("a\x1b[2J \x9b31m \u202e\t") == ["\x1b", "\x9b", "\u202e", "\t"]
