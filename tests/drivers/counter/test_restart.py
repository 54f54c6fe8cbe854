"""A board that starts anew in mid-run: from its lines to the result."""

from __future__ import annotations

from pathlib import Path

import pytest

from drivers.counter.driver import DRIVER
from tests.drivers.restart_road import Passing, check_result, passings, record

CARD = next(card for card in DRIVER.cards() if card.name == "counter-board")


def line(passing: Passing) -> bytes:
    return b"%d,%d\r\n" % (passing.marks, round(passing.device_s * 1e6))


@pytest.mark.parametrize(
    ("starts_s", "away_s"),
    [((), 0.0), ((41.0,), 0.4), ((41.0,), 6.0), ((20.0, 47.0, 71.0), 0.6)],
    ids=["never", "at once", "after a while", "three times"],
)
def test_the_result_comes_and_the_new_start_is_told(
    starts_s: tuple[float, ...], away_s: float, tmp_path: Path
) -> None:
    spoken = passings(starts_s, away_s=away_s)
    decoder = DRIVER.decoder(CARD)
    run = record(tmp_path / "run.jsonl", CARD, decoder, spoken, line)
    check_result(run, starts_s, away_s=away_s)
    assert decoder.remarks == ["The board started anew: its count and its time begin again."] * len(starts_s)
    if not starts_s:
        assert not any("anew" in reason for reason in run.result().reasons)
