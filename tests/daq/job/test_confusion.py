"""Which fault is named for which, over more than 200 seeded runs of the sheet with readings typed in.

The bench is our own: this shows that tests and rules fit together, not that they are right. Whole recordings are in
``test_bench_diagnosis.py``, and by the hundred in ``python -m tests.benchmarks.confusion_table``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from random import Random

from daq.catalog import machine_card
from daq.job.status import JobStatus
from drivers.bench.build import Build
from drivers.bench.faults import FAULTS
from drivers.bench.kinds import KINDS, build_of, faults_of
from tests.benchmarks.confusion_table import NONE, leading_name, right_name, table_lines
from tests.daq.job.other_machines import machine_of_kind, other_machine
from tests.daq.job.read_off import read_off

Record = Callable[[str, object], None]
Counts = Counter[tuple[str, str]]

CARTS = 6
FULL = 2
SOUND = 8
OTHERS = 6
OF_A_KIND = 2
CLASS_CARDS = {"dc_only": "class-3a-dc-only", "split": "class-split", "ac_only": "class-ac-only"}


def shown(title: str, counts: Counts, record: Record, kind: str = "regulated") -> None:
    record("table", "\n".join([f"{title}: {counts.total()} seeded runs, typed", *table_lines(counts, kind)]))


def misnamed(counts: Counts, kind: str = "regulated") -> Counts:
    """Those for which another fault is named, or one that is not there."""
    return Counter({k: n for k, n in counts.items() if k[1] not in {NONE, right_name(k[0], kind)}})


def unnamed(counts: Counts) -> int:
    """Faults for which none is named."""
    return sum(n for (true, named), n in counts.items() if named == NONE and true != "healthy")


def cart(fault: str, seed: int) -> JobStatus:
    charge = Random(f"{seed} charge").uniform(0.45, 0.8)
    return read_off(machine_card("nursery-sprayer"), fault, seed, charge)


def full_cart(fault: str, seed: int) -> JobStatus:
    """A cart with a full battery, run until its regulator, set low in the card's range, held back."""
    random = Random(f"{seed} charge")
    charge, build = random.uniform(0.95, 1.0), Build(regulator_set_v=random.uniform(13.75, 14.0))
    return read_off(machine_card("nursery-sprayer"), fault, seed, charge, build, run_before_s=40.0)


def test_carts(record_property: Record) -> None:
    counts = Counter(
        (fault, leading_name(cart(fault, seed))) for seed in range(500, 500 + CARTS) for fault in FAULTS
    )
    shown("the nursery's carts", counts, record_property)
    assert misnamed(counts) == Counter()
    assert unnamed(counts) == 0


def test_carts_with_full_batteries(record_property: Record) -> None:
    """Where the battery takes little and the regulator holds back, no test of a sound cart fails, nor is it blamed."""
    counts = Counter(
        (fault, leading_name(full_cart(fault, seed)))
        for seed in range(600, 600 + FULL)
        for fault in FAULTS
        if fault != "healthy"
    )
    sound = [full_cart("healthy", seed) for seed in range(650, 650 + SOUND)]
    counts.update(("healthy", leading_name(status)) for status in sound)
    shown("the nursery's carts with full batteries", counts, record_property)
    assert misnamed(counts) == Counter()
    assert unnamed(counts) == 0
    assert "fail" not in {each.state for status in sound for each in status.steps}
    assert {status.budget.carries for status in sound if status.budget is not None} == {"yes"}
    held_back = [status for status in sound if status.budget is not None and status.budget.at_least_only]
    assert len(held_back) > SOUND // 2


def test_machines_of_other_sizes(record_property: Record) -> None:
    """All are right but where ohms read to 0.01 of a winding of 0.2 can't part shorted turns from weak magnets.

    Four pairs of volts and speed are no sweep either, whose bend would show the shorted turns.
    """
    counts: Counts = Counter()
    for seed in range(500, 500 + OTHERS):
        other = other_machine(seed)
        for fault in FAULTS:
            counts[(fault, leading_name(read_off(other.card, fault, seed, other.charge, other.build)))] += 1
    shown("machines of other sizes", counts, record_property)
    wrong = Counter({k: n for k, n in counts.items() if k[1] != right_name(k[0])})
    assert {true for true, _ in wrong} <= {"weak_magnets", "shorted_turns"}
    assert {named for _, named in wrong} <= {"weak_magnets", "shorted_turns", NONE}
    assert wrong.total() <= 1


def test_alternators_of_other_kinds(record_property: Record) -> None:
    for kind in CLASS_CARDS:
        counts: Counts = Counter()
        for seed in range(500, 500 + OF_A_KIND):
            other = machine_of_kind(kind, seed)
            for fault in faults_of(kind):
                counts[
                    (fault, leading_name(read_off(other.card, fault, seed, other.charge, other.build)))
                ] += 1
        shown(f"alternators of the kind {kind}", counts, record_property, kind)
        assert misnamed(counts, kind) == Counter()
        assert unnamed(counts) == 0


def test_a_healthy_machine_names_no_fault_by_the_card_of_its_class_either() -> None:
    """A class card names no chemistry, so that only a battery near full is known to be charged enough."""
    assert {"regulated", *CLASS_CARDS} == set(KINDS)
    for kind, name in {**CLASS_CARDS, "regulated": "class-10a-regulated-ac"}.items():
        status = read_off(machine_card(name), "healthy", 7, 0.95, build_of(kind))
        assert leading_name(status) == NONE, kind
        assert {each.state for each in status.steps} <= {"pass", "no_limit", "does_not_apply"}, kind
