"""A disk that was full for a while is told of in the past, once, with its span; one that still is in its own words."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Reading
from daq.recording.entries import CloseEntry, EventEntry
from daq.recording.moved import Moved
from daq.run.disk_troubles import told_of_the_disk
from tests.daq.run.test_recorded import channel, opened

S = 1_000_000_000
FULL = (
    "The disk is full: run.jsonl can't grow. What stands in it is whole; make room on the disk. What comes meanwhile "
    "is held in memory."
)
FULL_BEFORE = (
    "The disk is full: run.jsonl can't grow. What stands in it is whole and 0 kB wait in memory; make room on the "
    "disk."
)
"""As recordings of earlier versions have it."""
SLOW = "The disk has taken nothing for 2 s: run.jsonl can't grow. What comes meanwhile is held in memory."
GREATEST = (
    "run.jsonl has reached the greatest size that is allowed for a file. What stands in it is whole. What comes "
    "meanwhile is held in memory."
)
UNWRITTEN = "run.jsonl can't be written (Input/output error). What comes meanwhile is held in memory."
HOMELESS = (
    "run.jsonl was removed or changed while it was written, and can't be put back into stick (File exists). What it "
    "held is kept as long as this run goes on: give the folder back. What comes meanwhile is held in memory."
)
BACK = "The disk takes the recording again."
PUT_BACK = "run.jsonl was removed during the run and has been put back, whole."
LOST = (
    "5 readings from 9.1 s to 9.6 s were lost: the recording could not be written and the memory set aside."
)
CLOSE = CloseEntry(t_ns=30 * S, reason="x", readings=1, digest="")


def event(t_s: float, kind: str, text: str, instrument: str | None = None) -> EventEntry:
    return EventEntry(t_ns=round(t_s * S), kind=kind, text=text, instrument=instrument)


@pytest.mark.parametrize(
    ("text", "past"),
    [
        (FULL, "The disk was full from 0:08 to 0:21; nothing was lost."),
        (FULL_BEFORE, "The disk was full from 0:08 to 0:21; nothing was lost."),
        (SLOW, "The disk took nothing from 0:06 to 0:21; nothing was lost."),
        (
            GREATEST,
            "The recording had the greatest size that is allowed for a file from 0:08 to 0:21; nothing was lost.",
        ),
        (UNWRITTEN, "The recording could not be written from 0:08 to 0:21; nothing was lost."),
        (
            HOMELESS,
            "The recording was removed or changed by something else and had no place from 0:08 to 0:21; nothing was "
            "lost.",
        ),
    ],
)
@pytest.mark.parametrize("back", [BACK, PUT_BACK])
def test_what_is_over_is_told_in_the_past_with_its_span(text: str, past: str, back: str) -> None:
    events = [event(1, "note", "Hello."), event(8, "stall", text), event(21.9, "note", back)]
    assert told_of_the_disk(events, None) == {1: past}


def test_a_recording_without_a_place_has_one_when_it_goes_on_elsewhere() -> None:
    past = "The recording was removed or changed by something else and had no place from 0:08 to 0:21"
    whole = Moved(Path("stick/run.jsonl"), Path("home/run-rest.jsonl"))
    events = [event(8, "stall", HOMELESS), event(21.9, "note", whole.text)]
    assert told_of_the_disk(events, None) == {0: f"{past}; nothing was lost."}
    events[1] = event(21.9, "loss", msgspec.structs.replace(whole, lost_readings=5, whole=False).text)
    assert told_of_the_disk(events, CLOSE) == {0: f"{past}."}


def test_a_day_has_hours() -> None:
    events = [event(3599, "stall", FULL), event(7261, "note", BACK)]
    assert told_of_the_disk(events, None) == {0: "The disk was full from 59:59 to 2:01:01; nothing was lost."}


def test_what_lasts_to_a_closing_line_was_taken_before_it_and_to_a_cut_was_not() -> None:
    events = [event(8, "stall", FULL), event(9, "note", "Something else.")]
    assert told_of_the_disk(events, CLOSE) == {0: "The disk was full from 0:08 to 0:30; nothing was lost."}
    assert told_of_the_disk(events, None) == {}


def test_each_trouble_ends_where_the_disk_came_back_after_it() -> None:
    events = [event(t, kind, text) for t in (8, 50) for kind, text in (("stall", FULL), ("note", BACK))]
    events[1], events[3] = event(21, "note", BACK), event(70, "note", BACK)
    told = told_of_the_disk(events, CLOSE)
    assert [told[place].split(";")[0] for place in (0, 2)] == [
        "The disk was full from 0:08 to 0:21",
        "The disk was full from 0:50 to 1:10",
    ]


def test_where_readings_were_lost_it_is_not_said_that_none_were() -> None:
    events = [event(8, "stall", FULL), event(9.6, "loss", LOST), event(21, "note", BACK)]
    assert told_of_the_disk(events, CLOSE) == {0: "The disk was full from 0:08 to 0:21."}
    events[1] = event(9.6, "loss", "2 lines were lost by the adapter.", "text-volts")
    assert told_of_the_disk(events, CLOSE) == {0: "The disk was full from 0:08 to 0:21; nothing was lost."}


def test_the_result_of_a_run_says_it_once(tmp_path: Path) -> None:
    events = [event(8, "stall", FULL), event(21, "note", BACK), event(40, "silent", "Silence.")]
    run = opened(tmp_path, [channel(0, Quantity.AC_VOLTAGE), Reading(0, 0, 24.0), *events])
    assert list(run.data.problems) == ["The disk was full from 0:08 to 0:21; nothing was lost.", "Silence."]
    assert "in memory" not in " ".join(run.result().reasons)
