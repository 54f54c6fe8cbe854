"""Makes the sample jobs in ``recordings/jobs``: ``python recordings/make_jobs.py [FOLDER]``.

Invented machines of an invented plant nursery on the virtual bench, worked out faster than real time. Each job is done
as a person with one meter does it, through the same code as ``spinvolt job next``: readings are recorded, taken into
the job file and judged; what is found is repaired on the bench; what is due is done again. The report that each job
gives is made at the end.
"""

from __future__ import annotations

import shutil
import sys
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import msgspec

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))  # the tests' own way through the sheet is used here too

from daq.cards.machine import MachineCard, parse_machine_card  # noqa: E402 - the path comes first
from daq.cards.machine_parts import DutyCard, LoadCard  # noqa: E402 - the path comes first
from daq.job.job import Job  # noqa: E402 - the path comes first
from daq.model.clock import ManualClock  # noqa: E402 - the path comes first
from daq.report import write_report  # noqa: E402 - the path comes first
from drivers.bench.build import Build  # noqa: E402 - the path comes first
from tests.daq.job.bench_job import BenchJob  # noqa: E402 - the path comes first
from tests.daq.job.whole_job import STEPS, do_step  # noqa: E402 - the path comes first

_STEP_TAKES_S = 420.0
_CART = ROOT / "daq/cards/machines/nursery-sprayer.toml"


@dataclass
class Sample:
    """A job that is under way."""

    job: Job
    bench: BenchJob
    clock: ManualClock
    skipped: dict[str, str] = field(default_factory=dict)

    def do_what_is_due(self) -> None:
        """Do the tests in the order in which the job asks for them, until none is left."""
        for _ in range(len(STEPS) + 1):
            step = self.job.status().next_step
            if step is None or step.name not in STEPS:
                return
            self.clock.advance(_STEP_TAKES_S)
            if step.name in self.skipped:
                self.job.skip(step.name, self.skipped[step.name])
            else:
                do_step(step.name, self.job, self.bench)
        raise RuntimeError("the job asks for the same test again and again")


def make(folder: Path) -> list[Path]:
    """Make all sample jobs anew, over those that are there; gives their files."""
    made = []
    for name, do in (("intermittent-joint", _intermittent_joint), ("too-many-loads", _too_many_loads)):
        shutil.rmtree(folder / name, ignore_errors=True)
        (folder / name).mkdir(parents=True)
        job, clock = do(folder / name)
        made.append(job.path)
        write_report([job.path], folder / name / "report.html", clock, force=True)
    return made


def _intermittent_joint(folder: Path) -> tuple[Job, ManualClock]:
    """The sprayer cart: a plug of the stator opens now and then, is remade, and the repair is proven two days later."""
    card = parse_machine_card(_CART.read_text("utf-8"), origin=_CART.name)
    sample = _begin(
        folder, card, "intermittent_joint", 21, "Charges some days and not on others; battery is new."
    )
    sample.do_what_is_due()
    sample.job.note("The reading jumps when the plug behind the fan shroud is bent.", "wiggle")
    sample.clock.advance(2 * 86_400.0)
    sample.job.repaired("Both pins of the stator's plug remade and crimped anew.")
    sample.bench.bench.repair()
    sample.do_what_is_due()
    return sample.job, sample.clock


def _too_many_loads(folder: Path) -> tuple[Job, ManualClock]:
    """The propagation house's trolley: sound, but a second pump was added that it can't carry."""
    build = Build(rated_v=27.0, loads_a={"controller": 0.4, "mist_pump": 3.2, "lamps": 1.8})
    card = msgspec.structs.replace(
        parse_machine_card(_CART.read_text("utf-8"), origin=_CART.name),
        name="mist-trolley",
        title="Mist trolley of an invented plant nursery, 10 A class alternator",
        load=(
            LoadCard(name="controller", current_a=0.4),
            LoadCard(name="mist pump", current_a=3.2),
            LoadCard(name="lamps", current_a=1.8),
        ),
        duty=DutyCard(idle_share=0.2),
    )
    sample = _begin(folder, card, "overloaded", 22, "Battery is flat by noon since the spring.", build)
    sample.skipped["wiggle"] = "plug is out of reach under the tank; nothing jumped while the engine ran"
    sample.do_what_is_due()
    return sample.job, sample.clock


def _begin(
    folder: Path, card: MachineCard, fault: str, seed: int, complaint: str, build: Build | None = None
) -> Sample:
    clock = ManualClock(utc=datetime(2026, 3, 16, 8, 30, tzinfo=UTC))
    bench = BenchJob(folder, fault, seed, charge=0.6, build=build, clock=clock, card=card)
    return Sample(Job.create(folder / "job.jsonl", card, clock, note=complaint), bench, clock)


if __name__ == "__main__":
    for path in make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / "jobs"):
        print(f"{path.parent.name}/{path.name}")
