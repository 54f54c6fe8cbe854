"""A job with a repair and a page on it, made once and looked at by several tests."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from daq.model.clock import ManualClock
from daq.report import report_page
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import do_step, start_job

__all__ = ["NOON", "RECORDINGS", "noon", "page_of"]

RECORDINGS = Path(__file__).parents[3] / "recordings"
NOON = datetime(2026, 5, 4, 12, 0, tzinfo=UTC)
_HOSTILE = "plug <b>out</b> of reach & $x$"


def noon() -> ManualClock:
    """A clock that stands at noon."""
    return ManualClock(utc=NOON)


def page_of(*paths: Path) -> str:
    """The page on some files, made at noon."""
    return report_page(paths, noon())


@pytest.fixture(scope="session")
def whole_repair(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of a job: weak magnets found, repaired, and its AC output proven; recorded and typed readings."""
    folder = tmp_path_factory.mktemp("repair")
    job, weak = start_job(folder, noon()), BenchJob(folder, "weak_magnets", 7)
    job.type_reading("battery_rest", "rest_voltage", "12.61")
    do_step("charging", job, weak)
    do_step("ac_output", job, weak)
    job.skip("wiggle", _HOSTILE)
    job.note("left by <i>nobody</i>")
    job.repaired("rotor changed")
    sound = BenchJob(folder, "healthy", 7)
    sound._count = 50  # its recordings lie beside the others
    do_step("charging", job, sound)
    do_step("ac_output", job, sound)
    return folder


@pytest.fixture
def repair(whole_repair: Path, tmp_path: Path) -> Path:
    """A copy of that folder, to be spoiled."""
    return Path(shutil.copytree(whole_repair, tmp_path / "repair"))


@pytest.fixture(scope="session")
def repair_page(whole_repair: Path) -> str:
    """The page on that job."""
    return page_of(whole_repair / "job.jsonl")


@pytest.fixture(scope="session")
def two_pages() -> str:
    """The page on two sample runs, the weak one first."""
    return page_of(RECORDINGS / "weak-magnets-hunting.jsonl", RECORDINGS / "healthy-sweep.jsonl")
