"""One job on each machine of the virtual bench, done once and looked at by several tests."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from daq.job.job import Job
from daq.job.status import JobStatus
from drivers.bench.faults import FAULTS
from tests.daq.job.bench_job import BenchJob
from tests.daq.job.whole_job import do_sheet, start_job

SEED = 11


@dataclass
class DoneJob:
    """A job with its bench still standing."""

    job: Job
    bench: BenchJob

    @property
    def status(self) -> JobStatus:
        return self.job.status()


class DoneJobs:
    """Jobs by fault; each is done when it is first asked for."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._done: dict[str, DoneJob] = {}

    def __getitem__(self, fault: str) -> DoneJob:
        if fault not in FAULTS:
            raise KeyError(fault)
        if fault not in self._done:
            folder = self._folder / fault
            folder.mkdir()
            bench = BenchJob(folder, fault, SEED)
            job = start_job(folder)
            do_sheet(job, bench)
            self._done[fault] = DoneJob(job, bench)
        return self._done[fault]


@pytest.fixture(scope="session")
def done_jobs(tmp_path_factory: pytest.TempPathFactory) -> DoneJobs:
    """Jobs on the bench, by fault. Whoever adds to one spoils it for the others: copy its file first."""
    return DoneJobs(tmp_path_factory.mktemp("jobs"))
