"""How an instrument is doing, from what its readings and the capture's events say."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.batch import Batch, empty_batch
from daq.recording.entries import ChannelEntry, EventEntry
from daq.run.health import HealthWatch
from daq.run.live import LiveRun
from daq.run.snapshot import InstrumentHealth


def _entry(card: dict[str, Any], number: int = 0) -> ChannelEntry:
    return ChannelEntry(
        channel=number,
        quantity=Quantity.AC_VOLTAGE,
        unit="V",
        instrument="meter",
        address="port 1",
        card=card,
        card_channel=number,
    )


METER = _entry({})


def _watch(entry: ChannelEntry = METER) -> HealthWatch:
    watch = HealthWatch()
    watch.declare(entry)
    return watch


def _read(
    watch: HealthWatch, *times_s: float, quality: int = Quality.GOOD, entry: ChannelEntry = METER
) -> None:
    t_ns = np.array([round(t * 1e9) for t in times_s], dtype=np.int64)
    watch.readings(entry, t_ns, np.full(len(times_s), quality, np.int8))


def _event(watch: HealthWatch, kind: str, text: str, instrument: str | None = "meter") -> None:
    watch.event(EventEntry(t_ns=0, kind=kind, text=text, instrument=instrument))


def _state(watch: HealthWatch, now_s: float) -> InstrumentHealth:
    (found,) = watch.states(now_s)
    return found


def test_before_its_first_reading_it_is_waited_for() -> None:
    found = _state(_watch(), 3.0)
    assert (found.state, found.age_s, found.rate_hz, found.readings) == ("waiting", None, None, 0)


def test_one_reading_has_an_age_and_no_pace() -> None:
    watch = _watch()
    _read(watch, 1.0)
    found = _state(watch, 3.0)
    assert (found.state, found.age_s, found.rate_hz) == ("ok", 2.0, None)


def test_the_pace_is_that_of_its_busiest_channel_over_the_last_seconds() -> None:
    watch, other = _watch(), _entry({}, 1)
    watch.declare(other)
    _read(watch, *np.arange(0.0, 5.0, 0.1).tolist())
    _read(watch, *np.arange(5.0, 20.0, 1.0).tolist())
    assert _state(watch, 20.0).rate_hz == pytest.approx(1.0)
    _read(watch, *np.arange(12.0, 20.0, 0.25).tolist(), entry=other)
    assert _state(watch, 20.0).rate_hz == pytest.approx(4.0)


def test_readings_of_one_and_the_same_moment_make_no_pace() -> None:
    watch = _watch()
    _read(watch, 1.0, 1.0, 1.0)
    assert _state(watch, 1.0).rate_hz is None


@pytest.mark.parametrize(
    ("card", "silent_after_s"),
    [({}, 5.0), ({"silence_s": 30}, 30.0), ({"silence_s": "long"}, 5.0), ({"silence_s": -1}, 5.0)],
)
def test_silence_is_as_long_as_the_card_says_if_it_makes_sense(
    card: dict[str, Any], silent_after_s: float
) -> None:
    watch = _watch(_entry(card))
    _read(watch, 0.0)
    assert _state(watch, silent_after_s).state == "ok"
    assert _state(watch, silent_after_s + 0.1).state == "silent"


def test_bad_frames_and_losses_are_counted() -> None:
    watch = _watch()
    _read(watch, 1.0, 2.0, quality=Quality.BAD_FRAME)
    _read(watch, 3.0, quality=Quality.LOST)
    _read(watch, 4.0)
    found = _state(watch, 4.0)
    assert (found.readings, found.bad_frames, found.lost) == (4, 2, 1)


@pytest.mark.parametrize("kind", ["link_lost", "refused"])
def test_a_lost_link_stays_lost_until_it_is_back(kind: str) -> None:
    watch = _watch()
    _event(watch, kind, "The cable is out.")
    _read(watch, 1.0)
    assert (_state(watch, 1.0).state, _state(watch, 1.0).text) == ("lost", "The cable is out.")
    _event(watch, "link_back", "It is back.")
    assert (_state(watch, 1.0).state, _state(watch, 1.0).text) == ("ok", "")


def test_one_that_was_told_silent_is_well_again_with_its_next_reading() -> None:
    watch = _watch()
    _event(watch, "silent", "Nothing comes.")
    assert _state(watch, 1.0).state == "silent"
    _read(watch, 2.0)
    assert _state(watch, 2.0).state == "ok"


def test_a_note_changes_the_words_alone_and_events_of_others_nothing() -> None:
    watch = _watch()
    _read(watch, 1.0)
    _event(watch, "note", "It says it is a meter.")
    _event(watch, "link_lost", "Another one.", "tach")
    _event(watch, "link_lost", "The whole computer.", None)
    assert (_state(watch, 1.0).state, _state(watch, 1.0).text) == ("ok", "It says it is a meter.")


def test_a_loss_that_is_written_down_makes_nothing_younger() -> None:
    watch = HealthWatch()
    watch.declare(METER)
    watch.readings(METER, np.array([1, 2]) * 10**9, np.full(2, Quality.GOOD, np.int8))
    watch.readings(METER, np.array([6]) * 10**9, np.array([Quality.LOST], np.int8))
    (only,) = watch.states(8.0)
    assert (only.age_s, only.lost) == (6.0, 1)


class _Lines:
    """A source that gives one batch, then nothing."""

    finished = False
    problems: ClassVar[list[str]] = []

    def __init__(self, batch: Batch) -> None:
        self._batches = [batch]

    def poll(self) -> Batch:
        return self._batches.pop() if self._batches else empty_batch()


def test_the_volts_too_are_as_old_as_their_last_reading() -> None:
    batch = Batch(
        np.zeros(3, np.int16),
        np.array([1, 2, 6]) * 10**9,
        np.array([24.0, 24.1, np.nan]),
        np.array([Quality.GOOD, Quality.GOOD, Quality.LOST], np.int8),
        [METER],
        [0],
    )
    volts = LiveRun(_Lines(batch)).update(8.0).voltage
    assert volts is not None
    assert (volts.age_s, volts.quality) == (6.0, Quality.LOST)
