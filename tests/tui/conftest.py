"""A real recording for the tests of the command line, made once by the demo itself."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.tui.program import Ran, interrupt, start

_MOST_LINES = 60
"""One comes each second."""


@pytest.fixture(scope="session", autouse=True)
def cache_of_their_own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """No test reads or fills the cache of whoever runs it."""
    folder = tmp_path_factory.mktemp("cache")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SPINVOLT_CACHE", str(folder))
        yield folder


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Ran:
    """A finished demo that has its result, some seconds of it, with its recording in ``run.jsonl``."""
    folder, said, passed = tmp_path_factory.mktemp("demo"), list[str](), 0
    with start("demo", "--headless", "--script", "hold", "--out", "run.jsonl", folder=folder) as process:
        try:
            assert process.stdout is not None
            for line in process.stdout:
                said.append(line)
                passed += "meets its limit" in line
                if passed == 2 or len(said) == _MOST_LINES:
                    break
            interrupt(process)
            out, err = process.communicate(timeout=40)
        except BaseException:
            process.kill()
            raise
    assert process.returncode == 0, err
    return Ran(0, "".join(said) + out, err, folder)


@pytest.fixture(scope="session")
def recording(demo: Ran) -> Path:
    """The demo's recording."""
    return demo.folder / "run.jsonl"
