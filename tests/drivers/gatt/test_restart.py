"""A sensor on Bluetooth LE that starts anew in mid-run: from its packets to the result."""

from __future__ import annotations

import struct
from pathlib import Path

import pytest

from drivers.gatt.driver import DRIVER
from drivers.gatt.settings import parse_settings
from drivers.gatt.sources import decoder_for, plan_sources
from tests.drivers.restart_road import Passing, check_result, passings, record

CARD = next(card for card in DRIVER.cards() if card.name == "ble-revolutions")


def packet(passing: Passing) -> bytes:
    """Wheel data of CSC Measurement; the time wraps each 64 s."""
    return struct.pack("<BIH", 1, passing.marks, round(passing.device_s * 1024) & 0xFFFF)


@pytest.mark.parametrize(
    ("starts_s", "away_s"),
    [((), 0.0), ((41.0,), 0.4), ((20.0, 47.0), 5.0)],
    ids=["never", "at once", "twice"],
)
def test_the_result_comes_and_the_new_start_is_told(
    starts_s: tuple[float, ...], away_s: float, tmp_path: Path
) -> None:
    (source,) = plan_sources(CARD, parse_settings(CARD))
    spoken = passings(starts_s, away_s=away_s)
    run = record(tmp_path / "run.jsonl", CARD, decoder_for(CARD, source, None), spoken, packet)
    check_result(run, starts_s, away_s=away_s)
