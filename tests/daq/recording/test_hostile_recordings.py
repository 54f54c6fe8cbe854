"""Recordings from strangers: a hostile line costs itself and nothing else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.errors import RecordingError
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.entries import (
    ChannelEntry,
)
from daq.recording.lines import encode_lines
from daq.recording.reader import read_recording
from tests.daq.recording.builders import SESSION, VOLTS, raw, readings

CARD = {"name": "nursery-sprayer", "title": "Sprayer cart", "rated_speed_rpm": 3600.0}


def problems_of(path: Path, data: bytes) -> list[str]:
    """What is told of a file besides that it was cut off."""
    path.write_bytes(data)
    return [p for p in read_recording(path).problems if "cut off" not in p]


def what_is_told(path: Path) -> list[str]:
    """The problems of a file, or the sentence with which it is refused."""
    try:
        return read_recording(path).problems
    except RecordingError as error:
        return [str(error)]


HOSTILE: list[tuple[bytes, str]] = [
    (b"[7,1,2,0]", "1 reading is left out, the first in line 5: channel 7 is not declared before it."),
    (b"[0,1,2,55]", "1 line could not be read and is left out, the first in line 5: no reading"),
    (b"[0,-1,2,0]", "1 line could not be read"),
    (b"[0,1e9,2,0]", "1 line could not be read"),
    (b"[0,1,1e999,0]", "1 line could not be read"),
    (b"[0,123456789012345678901234567890,2,0]", "1 line could not be read"),
    (b'[0,1,"=cmd()",0]', "1 line could not be read"),
    (b"[0,1,\xff\xfe,0]", "1 line could not be read"),
    (b"[" * 5000, "1 line could not be read"),
    (b"", "1 line could not be read and is left out, the first in line 5: empty."),
    (b"\x00\x00\x00", "neither a reading nor an entry"),
    (b"[0,0,5,0]", "1 reading is left out, the first in line 5: channel 0 runs back in time."),
    (b"[0,2,null,0]", "1 reading without a value is marked good, the first in line 5"),
    (b'{"entry":"mark","t_ns":-5,"text":""}', "line 5: t_ns = -5 is no time"),
    (b'{"entry":"mark","t_ns":99999999999999999999,"text":""}', "is no time within the session"),
    (encode_lines([SESSION])[:-1], "a session line may stand in line 1 only"),
    (encode_lines([VOLTS])[:-1], "channel 0 is declared twice"),
    (b'{"entry":"machine","card":{"name":"x","title":"x","rated_speed_rpm":1e99}}', "machine card in line 5"),
    (b'{"entry":"machine","card":{"name":"\\u001b[2J"}}', "machine card in line 5"),
    (b'{"entry":"new kind","t_ns":1}', "no entry that this version knows"),
]


@pytest.mark.parametrize(("line", "sentence"), HOSTILE, ids=[str(i) for i in range(len(HOSTILE))])
def test_a_hostile_line_costs_itself_and_nothing_else(tmp_path: Path, line: bytes, sentence: str) -> None:
    path = tmp_path / "odd.jsonl"
    (problem,) = problems_of(path, raw(b"[0,1,20.5,0]", line, b"[0,3,21.5,0]"))
    assert sentence in problem
    assert problem.isprintable()
    good = [v for v in read_recording(path).columns(0).value.tolist() if v in (20.5, 21.5)]
    assert good == [20.5, 21.5]


@pytest.mark.parametrize("channel", [-1, 1024, 10**12])
def test_a_channel_number_beyond_reason_is_told(tmp_path: Path, channel: int) -> None:
    entry = encode_lines([VOLTS]).replace(b'"channel":0', b'"channel":%d' % channel)
    (problem,) = problems_of(tmp_path / "odd.jsonl", raw(entry[:-1]))
    assert f"channel {channel} is not from 0 to 1023" in problem


def test_a_good_reading_without_a_value_is_not_a_good_one(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(b"[0,1,20.5,0]", b"[0,2,null,0]", b"[0,3,null,1]"))
    got = read_recording(path).columns(0)
    assert got.quality.tolist() == [Quality.GOOD, Quality.NOT_A_NUMBER, Quality.OVERLOAD]


@pytest.mark.parametrize("value", ["9.2e18", "-1e308", "100001", "1e-31", "-5e-324"])
def test_a_reading_that_cannot_be_is_told_and_not_used(tmp_path: Path, value: str) -> None:
    odd = f"[0,500000,{value},0]\n[1,500000,100001,0]\n".encode()
    path = tmp_path / "odd.jsonl"
    (problem,) = problems_of(path, raw(*readings(6)) + odd)
    assert problem == (
        f"1 reading can't be, the first in line 10: {float(value):g} V; kept in the file, not used."
    )
    volts, speed = (read_recording(path).columns(n) for n in (0, 1))
    assert volts.quality.tolist() == [0, 0, 0, int(Quality.IMPLAUSIBLE)]
    assert np.isnan(volts.value).tolist() == [False, False, False, True]
    assert speed.value[-1] == 100_001, "what no volts can be is a speed"
    assert speed.quality.tolist() == [0, 0, 0, 0]
    assert odd in path.read_bytes()


def test_the_bounds_themselves_and_nothing_are_readings(tmp_path: Path) -> None:
    ends = (
        b"[0,500000,100000.0,0]\n[0,500000,-1e5,0]\n[0,500000,0,0]\n[0,500000,-0.0,0]\n[0,500000,1e-30,0]\n"
    )
    assert problems_of(tmp_path / "ends.jsonl", raw() + ends) == []
    assert read_recording(tmp_path / "ends.jsonl").columns(0).value.tolist() == [1e5, -1e5, 0.0, 0.0, 1e-30]


def test_an_implausible_reading_of_no_channel_is_no_more_than_that(tmp_path: Path) -> None:
    told = problems_of(tmp_path / "odd.jsonl", raw() + b"[7,1,1e-40,0]\n")
    assert told == ["1 reading is left out, the first in line 4: channel 7 is not declared before it."]


def test_the_tail_of_an_endless_line_is_no_line(tmp_path: Path) -> None:
    """Its first part fills a block, so that the rest stands at the start of the next."""
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(b"x" * 4 * 1024 * 1024 + b"[0,5,99,0]", b"[0,6,20.5,0]"))
    assert read_recording(path).columns(0).value.tolist() == [20.5]


def test_a_channel_in_another_unit_is_not_taken_for_volts(tmp_path: Path) -> None:
    entry = ChannelEntry(
        channel=2,
        quantity=Quantity.DC_VOLTAGE,
        unit="mV",
        instrument="x",
        address="",
        card={},
        card_channel=0,
    )
    found = problems_of(tmp_path / "odd.jsonl", raw(entry, b"[2,1,5,0]"))
    assert "dc_voltage is recorded in V, not in 'mV'" in found[0]
    assert "channel 2 is not declared" in found[1]


def test_a_million_faults_are_a_few_sentences(tmp_path: Path) -> None:
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(*([b"\x1b[2J"] * 60_000), *([b"[5,1,2,0]"] * 3)))
    found = read_recording(path).problems
    assert [p.split(" ")[0] for p in found] == ["60000", "3", "The"]
    assert all(p.isprintable() for p in found)


def test_readings_before_their_channel_is_declared_are_left_out(tmp_path: Path) -> None:
    third = ChannelEntry(
        channel=2,
        quantity=Quantity.TEMPERATURE,
        unit="degC",
        instrument="t",
        address="",
        card={},
        card_channel=0,
    )
    path = tmp_path / "odd.jsonl"
    path.write_bytes(raw(b"[2,1,20,0]", third, b"[2,2,21,0]"))
    recording = read_recording(path)
    assert recording.columns(2).value.tolist() == [21.0]
    assert "channel 2 is not declared before it" in recording.problems[0]


@settings(max_examples=80, deadline=None)
@given(st.binary(max_size=300), st.integers(0, 400))
def test_any_bytes_at_any_place_end_in_a_recording_or_a_sentence(
    tmp_path_factory: pytest.TempPathFactory, junk: bytes, at: int
) -> None:
    path = tmp_path_factory.mktemp("fuzz") / "odd.jsonl"
    data = raw(*readings(4))
    path.write_bytes(data[:at] + junk + data[at:])
    told = what_is_told(path)
    assert told
    assert all(sentence.isprintable() for sentence in told)
