from __future__ import annotations

import os
import tracemalloc
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from daq.errors import RecordingError
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.recording.entries import (
    ChannelEntry,
    ClockEntry,
    EventEntry,
    Line,
    MachineEntry,
    MarkEntry,
    SessionEntry,
    StepEntry,
)
from daq.recording.lines import encode_lines
from daq.recording.reader import read_recording
from tests.daq.recording.builders import SESSION, SPEED, VOLTS, raw, readings, record

CARD = {"name": "nursery-sprayer", "title": "Sprayer cart", "rated_speed_rpm": 3600.0}


def problems_of(path: Path, data: bytes) -> list[str]:
    """What is told of a file besides that it was cut off."""
    path.write_bytes(data)
    return [p for p in read_recording(path).problems if "cut off" not in p]


def test_a_closed_recording_comes_back_whole(tmp_path: Path) -> None:
    lines: list[Line] = [
        MachineEntry(card=CARD),
        *readings(5),
        EventEntry(t_ns=1, kind="junk", text="3 bytes of junk", instrument="scpi-meter"),
        Reading(0, 600_000_000, None, Quality.OVERLOAD),
        MarkEntry(t_ns=2, text="choke off"),
        StepEntry(t_ns=3, step="warm-up", state="done"),
        ClockEntry(t_ns=700_000_000, utc="2026-03-01T08:00:01Z"),
    ]
    recording = read_recording(record(tmp_path / "run.jsonl", lines))
    assert recording.problems == []
    assert recording.complete
    assert recording.session == SESSION
    assert recording.start == datetime(2026, 3, 1, 8, tzinfo=UTC)
    assert recording.channels == (VOLTS, SPEED)
    assert recording.machine is not None
    assert recording.machine.rated_speed_rpm == 3600
    assert [e.text for e in recording.events] == ["3 bytes of junk"]
    assert [m.text for m in recording.marks] == ["choke off"]
    assert [s.step for s in recording.steps] == ["warm-up"]
    assert [c.t_ns for c in recording.clocks] == [700_000_000]
    assert recording.close is not None
    assert (recording.close.readings, recording.close.reason) == (6, "asked to stop")
    volts, speed = recording.columns(0), recording.columns(1)
    assert volts.t_ns.tolist() == [0, 200_000_000, 400_000_000, 600_000_000]
    assert volts.value[:3].tolist() == [20.5, 20.75, 21.0]
    assert np.isnan(volts.value[3])
    assert volts.quality.tolist() == [0, 0, 0, 1]
    assert speed.value.tolist() == [3601.0, 3603.0]
    assert [str(a.dtype) for a in (volts.t_ns, volts.value, volts.quality)] == ["int64", "float64", "int8"]


@pytest.mark.parametrize("channels", [3, 16, 17, 60])
def test_many_channels_are_told_apart(tmp_path: Path, channels: int) -> None:
    declared = [
        ChannelEntry(
            channel=7 * number,
            quantity=Quantity.TEMPERATURE,
            unit="degC",
            instrument=f"t-{number}",
            address="",
            card={},
            card_channel=0,
        )
        for number in range(channels)
    ]
    lines = [Reading(7 * (i % channels), 1000 * i, float(i)) for i in range(10 * channels)]
    path = tmp_path / "run.jsonl"
    path.write_bytes(encode_lines([SESSION, *declared, *lines]))
    recording = read_recording(path)
    for number in range(channels):
        got = recording.columns(7 * number)
        assert (got.t_ns // 1000).tolist() == list(range(number, 10 * channels, channels))
        assert got.value.tolist() == (got.t_ns // 1000).tolist()


def test_a_channel_that_is_not_there_is_a_mistake_of_the_caller(tmp_path: Path) -> None:
    recording = read_recording(record(tmp_path / "run.jsonl", []))
    assert len(recording.columns(0).t_ns) == 0
    with pytest.raises(KeyError):
        recording.columns(7)


def test_a_file_cut_at_any_byte_opens_with_all_its_whole_lines(tmp_path: Path) -> None:
    whole = record(tmp_path / "run.jsonl", [*readings(6), MarkEntry(t_ns=9, text="käse")]).read_bytes()
    cut = tmp_path / "cut.jsonl"
    first_line = whole.index(b"\n") + 1
    for size in range(len(whole)):
        cut.write_bytes(whole[:size])
        if size < first_line:
            with pytest.raises(RecordingError, match="empty|cut off within its first line"):
                read_recording(cut)
            continue
        recording = read_recording(cut)
        kept = whole[: whole.rfind(b"\n", 0, size) + 1]
        lines = kept.count(b"\n")
        torn = size - len(kept)
        assert recording.readings == kept.count(b"\n["), size
        assert len(recording.marks) == kept.count(b'"mark"')
        assert not recording.complete
        (problem,) = recording.problems
        assert f"Its last whole line is line {lines}, at " in problem
        assert (f"{torn} byte" in problem) == (torn > 0)
    assert size == len(whole) - 1


def test_the_sentence_on_a_cut_says_when(tmp_path: Path) -> None:
    path = tmp_path / "cut.jsonl"
    path.write_bytes(raw(*readings(84)) + b"[0,12")
    assert read_recording(path).problems == [
        "The recording was cut off: it has no closing line. Its last whole line is line 87, at 8.300 s "
        "(2026-03-01 08:00:08 UTC); 5 bytes of an unfinished line are left out. What came after that is missing."
    ]


@pytest.mark.parametrize("at", [100, 400, -300, -2])
def test_a_changed_recording_is_told(tmp_path: Path, at: int) -> None:
    path = record(tmp_path / "run.jsonl", readings(20))
    data = bytearray(path.read_bytes())
    changed = b"7" if data[at : at + 1] != b"7" else b"8"
    while not data[at : at + 1].isdigit():
        at -= 1
    data[at : at + 1] = changed
    path.write_bytes(data)
    recording = read_recording(path)
    assert not recording.complete
    assert recording.problems != []


def test_a_reading_taken_out_after_the_close_is_told_by_the_digest(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", readings(20))
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join(lines[:10] + lines[11:]))
    assert read_recording(path).problems == [
        "The recording was changed after it was closed: its digest does not match."
    ]


def test_lines_after_the_close_are_left_out_and_told(tmp_path: Path) -> None:
    path = record(tmp_path / "run.jsonl", readings(4))
    with path.open("ab") as file:
        file.write(b"[0,9000000000,99,0]\n[0,9100000000,99,0]\n[0,92")
    recording = read_recording(path)
    assert recording.readings == 4
    assert not recording.complete
    assert recording.problems == [
        "2 lines after the closing line, from line 9 on, are left out.",
        "5 bytes of an unfinished line after the closing line are left out.",
    ]


def test_much_after_the_close_is_left_out_and_counted(tmp_path: Path) -> None:
    """More than one piece of it, so that some piece starts after the close."""
    path = record(tmp_path / "run.jsonl", readings(4))
    with path.open("ab") as file:
        file.write(b"[0,9000000000,99,0]\n" * 20_000)
    recording = read_recording(path)
    assert recording.readings == 4
    assert recording.problems == ["20000 lines after the closing line, from line 9 on, are left out."]


def test_a_wrong_count_in_the_close_is_told(tmp_path: Path) -> None:
    import hashlib

    from daq.recording.entries import CloseEntry

    body = raw(*readings(4))
    digest = "sha256:" + hashlib.sha256(body).hexdigest()
    close = encode_lines([CloseEntry(t_ns=1, reason="", readings=5, digest=digest)])
    assert problems_of(tmp_path / "run.jsonl", body + close) == [
        "The closing line (line 8) counts 5 readings where there are 4."
    ]


NO_RECORDINGS = {
    "text": b"hello\n",
    "csv": b"time_s,voltage_V\n0,1\n",
    "json": b'{"a": 1}\n',
    "array": b"[0,1,2,0]\n",
    "binary": bytes(range(256)) * 10,
    "newline": b"\n",
    "entry": b'{"entry":"mark","t_ns":1,"text":"x"}\n',
    "nested": b"[" * 200_000 + b"\n",
    "deep": b'{"entry":' * 200_000 + b"\n",
    "long": b'{"entry":"session"' + b" " * 2_000_000,
    "version": b'{"entry":"session","version":"one"}\n',
    "utf16": '{"entry":"mark"}\n'.encode("utf-16"),
}


@pytest.mark.parametrize("kind", NO_RECORDINGS)
def test_what_is_no_recording_is_refused_in_one_sentence(tmp_path: Path, kind: str) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(NO_RECORDINGS[kind])
    with pytest.raises(RecordingError, match=r"^odd\.jsonl is no spinvolt recording") as refused:
        read_recording(path)
    assert "\n" not in str(refused.value)


def test_an_empty_file_and_a_missing_one_and_a_folder_are_told_apart(tmp_path: Path) -> None:
    (tmp_path / "empty.jsonl").touch()
    with pytest.raises(RecordingError, match="empty"):
        read_recording(tmp_path / "empty.jsonl")
    with pytest.raises(RecordingError, match="no recording gone.jsonl"):
        read_recording(tmp_path / "gone.jsonl")
    with pytest.raises(RecordingError, match="is a folder"):
        read_recording(tmp_path)
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(RecordingError, match="no ordinary file"):
        read_recording(tmp_path / "pipe")


def test_a_newer_version_is_told_even_when_its_fields_are_unknown(tmp_path: Path) -> None:
    path = tmp_path / "new.jsonl"
    path.write_bytes(b'{"entry":"session","version":3,"begun":[1,2]}\n[0,1,2,3,4]\n')
    with pytest.raises(RecordingError, match="format version 3; this spinvolt reads up to version 2"):
        read_recording(path)


@pytest.mark.parametrize("start", ["yesterday", "2026-03-01T08:00:00", "9999-12-31T23:59:59Z", ""])
def test_a_session_without_a_usable_start_is_refused(tmp_path: Path, start: str) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(encode_lines([SessionEntry(program="x", started_utc=start, source="run")]))
    with pytest.raises(RecordingError, match="start time"):
        read_recording(path)


def big(path: Path, count: int) -> Path:
    """A recording large enough for the bulk way in several blocks, with a mark in between."""
    half = [Reading(i % 2, i * 1_000_000, 20.0 + (i % 977) / 7) for i in range(count)]
    return record(
        path, [*half[: count // 2], MarkEntry(t_ns=1, text="half [way] {here}"), *half[count // 2 :]]
    )


def test_a_large_recording_goes_in_bulk_and_gives_the_same(tmp_path: Path) -> None:
    path = big(tmp_path / "big.jsonl", 300_000)
    assert path.stat().st_size > 8_500_000
    seen: list[float] = []
    recording = read_recording(path, seen.append)
    assert recording.complete
    assert recording.readings == 300_000
    assert [m.text for m in recording.marks] == ["half [way] {here}"]
    expected = 20.0 + (np.arange(0, 300_000, 2) % 977) / 7
    assert np.array_equal(recording.columns(0).value, expected)
    assert np.array_equal(recording.columns(1).t_ns, np.arange(1, 300_000, 2) * 1_000_000)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0
    assert len(seen) > 2


@pytest.mark.parametrize("count", [200, 300_000])
def test_the_first_version_is_read_to_the_nanosecond(tmp_path: Path, count: int) -> None:
    """In version 1 a reading's time was in nanoseconds; a large file goes through the bulk parser."""
    session = encode_lines(
        [SessionEntry(version=1, program="x", started_utc=SESSION.started_utc, source="run")]
    )
    declared = encode_lines([VOLTS, SPEED])
    path = tmp_path / "old.jsonl"
    path.write_bytes(
        session + declared + b"".join(b"[%d,%d,20.5,0]\n" % (i % 2, 123 + i) for i in range(count))
    )
    recording = read_recording(path)
    assert recording.readings == count
    assert np.array_equal(recording.columns(1).t_ns, np.arange(1, count, 2) + 123)


def test_a_time_too_late_in_this_version_s_unit_is_no_reading(tmp_path: Path) -> None:
    """4e15 us are 4e18 ns; one more would leave the range of a signed 64 bit number when multiplied on."""
    told = problems_of(tmp_path / "late.jsonl", raw(b"[0,4000000000000000,1,0]", b"[0,4000000000000001,1,0]"))
    assert len(told) == 1
    assert "later than any recording can be" in told[0]


def test_a_large_recording_with_junk_keeps_all_the_rest(tmp_path: Path) -> None:
    path = big(tmp_path / "big.jsonl", 120_000)
    lines = path.read_bytes().split(b"\n")
    lines[50_000:50_000] = [b"x" * 3_000_000, b"[0,1,2]", b"x" * 5_000_000]
    path.write_bytes(b"\n".join(lines))
    recording = read_recording(path)
    assert recording.readings == 120_000
    assert recording.problems == [
        "3 lines could not be read and are left out, the first in line 50001: longer than 1 MB.",
        "The recording was changed after it was closed: its digest does not match.",
    ]


def test_an_endless_line_is_not_kept_in_memory(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw() + b"[" * 40_000_000)
    tracemalloc.start()
    recording = read_recording(path)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert recording.readings == 0
    assert peak < 45_000_000


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("whole", [True, False])
def test_a_recording_that_an_editor_saved_is_told_as_one(tmp_path: Path, encoding: str, whole: bool) -> None:
    text = raw(*readings(4)).decode()
    path = tmp_path / "run.jsonl"
    path.write_text(text if whole else text.partition("\n")[0], encoding)
    with pytest.raises(RecordingError) as refused:
        read_recording(path)
    assert str(refused.value) == (
        "run.jsonl was saved by an editor that put a byte order mark in front; a recording has none. Take a copy that "
        "was not edited, or save it as UTF-8 without a byte order mark."
    )


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_a_log_with_a_byte_order_mark_is_no_recording(tmp_path: Path, encoding: str) -> None:
    (tmp_path / "log.csv").write_text("time_s,voltage_V\n0,1\n", encoding)
    with pytest.raises(RecordingError, match="CSV logs come in with `spinvolt import`"):
        read_recording(tmp_path / "log.csv")
