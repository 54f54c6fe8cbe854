"""How often a channel's readings come, and what is told of one that fell silent."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.batch import Batch, empty_batch
from daq.recording.entries import ChannelEntry
from daq.run.live import LiveRun
from daq.run.pace import Pace

CARD: dict[str, Any] = {"name": "m", "title": "M", "protocol": "p", "channel": [{"quantity": "ac_voltage"}]}
SLOW = {**CARD, "channel": [{"quantity": "ac_voltage", "response": {"interval_s": 6.0}}]}


def _entry(card: dict[str, Any], quantity: Quantity = Quantity.AC_VOLTAGE, number: int = 0) -> ChannelEntry:
    return ChannelEntry(
        channel=number,
        quantity=quantity,
        unit=quantity.unit,
        instrument=f"one-{number}",
        address="port",
        card=card,
        card_channel=0,
    )


@pytest.mark.parametrize(
    ("card", "usual_s"),
    [
        (CARD, None),
        (SLOW, 6.0),
        ({**CARD, "settings": {"poll_s": 4}}, 4.0),
        ({**CARD, "settings": {"interval_s": 2.0}}, 2.0),
        ({**CARD, "settings": {"interval_s": "often"}}, None),
        ({}, None),
    ],
)
def test_before_the_second_reading_the_card_says_it(card: dict[str, Any], usual_s: float | None) -> None:
    pace = Pace(_entry(card))
    pace.note(np.array([1.0]))
    assert pace.usual_s == usual_s


def test_measured_it_outlives_a_gap_and_follows_a_dial_that_was_turned() -> None:
    pace = Pace(_entry(SLOW))
    for time_s in (0.0, 0.5, 1.0, 1.5, 61.5, 62.0):
        pace.note(np.array([time_s]))
    assert pace.usual_s == pytest.approx(0.5)
    pace.note(62.0 + np.arange(1.0, 10.0) * 4.0)
    assert pace.usual_s == pytest.approx(4.0)


class _Source:
    """Gives what a test puts in."""

    def __init__(self) -> None:
        self.next = empty_batch()
        self.finished = False
        self.problems: list[str] = []

    def poll(self) -> Batch:
        batch, self.next = self.next, empty_batch()
        return batch


def _batch(entries: tuple[Any, ...], *readings: tuple[int, float, float]) -> Batch:
    channel, time_s, value = (np.array(each) for each in zip(*readings, strict=True))
    return Batch(
        entries=list(entries),
        entry_at=[0] * len(entries),
        channel=channel.astype(np.int16),
        t_ns=(time_s * 1e9).astype(np.int64),
        value=value.astype(float),
        quality=np.full(len(channel), Quality.GOOD, np.int8),
    )


def test_what_fell_silent_long_ago_is_still_known_to_have_been_there() -> None:
    source = _Source()
    run = LiveRun(source)
    entries = (_entry(CARD), _entry(CARD, Quantity.ROTATIONAL_SPEED, 1))
    source.next = _batch(entries, *[(n, float(t), 20.0 + n) for t in range(0, 40, 4) for n in (0, 1)])
    first = run.update()
    assert first.voltage is not None
    assert (first.voltage.age_s, first.voltage.usual_s) == (0.0, 4.0)
    source.next = _batch((), *[(0, float(t), 20.0) for t in range(40, 400, 4)])
    later = run.update()
    assert later.speed is not None
    assert (later.speed.value, later.speed.age_s) == (21.0, 360.0)
    assert len(later.raw_speed.time_s) == 0
    assert [(health.usual_s, health.age_s) for health in later.health] == [(4.0, 0.0), (4.0, 360.0)]
