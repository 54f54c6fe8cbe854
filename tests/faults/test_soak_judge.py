"""The judge of the soak sees what it is there for."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import pytest

from daq.model.reading import Quality
from tests.faults.adapters import Adapter, Pull
from tests.faults.soak_judge import Judge

BAD, LOST = Quality.BAD_FRAME, Quality.LOST
Row = int | Quality


def judged(folder: Path, rows: Sequence[Row], *pulls: Pull) -> Judge:
    """What it says of one instrument's rows: counts that were recorded, and readings without a value."""
    adapter = Adapter(folder, owner=3)
    adapter._count = 1000
    adapter.pulls += pulls
    path = folder / "run.jsonl"
    lines = [
        [0, number, None, int(row)] if isinstance(row, Quality) else [0, number, 10_000_003 + 10 * row, 0]
        for number, row in enumerate(rows)
    ]
    path.write_text("".join(json.dumps(line) + "\n" for line in lines) + "[0,99,1")
    judge = Judge(path, [adapter])
    judge.look()
    assert judge.rows == len(rows)  # the torn line is left for the next look
    return judge


@pytest.mark.parametrize(
    ("rows", "wrong"),
    [
        ([1, 2, 3], (0, 0, 0)),
        ([1, 2, 2], (0, 1, 0)),
        ([1, 3, 2], (0, 1, 1)),
        ([1, 2, 1000], (1, 0, 0)),  # not sent yet
        ([1, 4], (0, 0, 2)),
        ([1, BAD, 4], (0, 0, 0)),
        ([1, BAD, 5], (0, 0, 1)),  # more than a bad frame can cost
        ([1, LOST, 500], (0, 0, 0)),
        ([1, BAD, 2, 4], (0, 0, 1)),  # what was told before is told no more
    ],
)
def test_rows_without_a_pull(tmp_path: Path, rows: Sequence[Row], wrong: tuple[int, int, int]) -> None:
    judge = judged(tmp_path, rows)
    assert (judge.false, judge.doubled, judge.missing) == wrong
    assert len(judge.faults) == (wrong != (0, 0, 0)) + (rows == [1, 3, 2])


@pytest.mark.parametrize(
    ("rows", "wrong"),
    [
        ([48, LOST, 100], (0, 0, 0)),
        ([39, LOST, 100], (0, 0, 0)),  # what was in the port when it was pulled
        ([38, LOST, 100], (0, 0, 1)),
        ([36, BAD, LOST, 100], (0, 0, 1)),
        ([49, 100], (0, 0, 1)),  # nobody told that it was away
        ([49, LOST, 70, 100], (1, 0, 0)),  # counted while it was out, and never sent
        ([49, LOST, 130], (0, 0, 0)),
    ],
)
def test_rows_around_a_pull(tmp_path: Path, rows: Sequence[Row], wrong: tuple[int, int, int]) -> None:
    judge = judged(tmp_path, rows, Pull(gone=50, back=90, unread=10))
    assert (judge.false, judge.doubled, judge.missing) == wrong
    assert judge.slowest_s == pytest.approx(0.4 if rows[-1] == 130 else 0.1)


def test_a_number_of_another_instrument_is_false(tmp_path: Path) -> None:
    adapter = Adapter(tmp_path, owner=3)
    assert [adapter.count_of(value) for value in (10_000_013.0, 10_000_014.0, 10_000_013.5, 3.0)] == [
        1,
        None,
        None,
        None,
    ]
