"""A real recording for the tests of the command line, made once by the demo itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.program import Ran, spinvolt


@pytest.fixture(scope="session", autouse=True)
def cache_of_their_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """No test reads or fills the cache of whoever runs it."""
    folder = tmp_path_factory.mktemp("cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SPINVOLT_CACHE", str(folder))
        yield folder


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """A finished demo of five seconds, with its recording in ``run.jsonl``."""
    folder = tmp_path_factory.mktemp("demo")
    ran = spinvolt(
        "demo", "--headless", "--script", "hold", "--seconds", "5", "--out", "run.jsonl", folder=folder
    )
    assert ran.status == 0, ran.err
    return ran


@pytest.fixture(scope="session")
def recording(demo: Ran) -> Path:
    """The demo's recording."""
    return demo.folder / "run.jsonl"
