from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.model.reading import Quality, Reading
from daq.recording.entries import ChannelEntry, EventEntry, MachineEntry, MarkEntry
from daq.recording.lines import (
    MAX_CHANNELS,
    MAX_T_NS,
    LineError,
    clean_text,
    decode_entry,
    decode_row,
    encode_lines,
)
from tests.daq.recording.builders import SESSION, VOLTS

READINGS = st.builds(
    Reading,
    channel=st.integers(0, MAX_CHANNELS - 1),
    t_ns=st.integers(0, MAX_T_NS),
    value=st.none() | st.floats(),
    quality=st.sampled_from(Quality),
)
PRINTABLE = st.text(st.characters(codec="utf-8").filter(str.isprintable), max_size=40)


@given(READINGS)
def test_a_reading_comes_back_bit_for_bit_or_as_missing(reading: Reading) -> None:
    line = encode_lines([reading])
    assert line.endswith(b"\n")
    channel, time_us, value, quality = decode_row(line[:-1])
    assert (channel, time_us) == (reading.channel, reading.t_ns // 1000)
    if reading.value is None or not math.isfinite(reading.value):
        assert value is None
        assert quality == (Quality.NOT_A_NUMBER if reading.quality is Quality.GOOD else reading.quality)
    else:
        assert value is not None
        assert (value.hex(), quality) == (reading.value.hex(), reading.quality)


@given(READINGS)
def test_every_line_is_json_that_the_standard_library_reads(reading: Reading) -> None:
    """RFC 8259, section 6: JSON has neither NaN nor infinity."""

    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    fields = json.loads(encode_lines([reading]), parse_constant=refuse)
    assert len(fields) == 4


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (20.5, b"20.5"),
        (0.1, b"0.1"),
        (1e16, b"1e16"),
        (5e-324, b"5e-324"),
        (1.7976931348623157e308, b"1.7976931348623157e308"),
        (math.nan, b"null"),
        (-math.inf, b"null"),
    ],
)
def test_numbers_are_written_with_the_fewest_digits(value: float, text: bytes) -> None:
    assert encode_lines([Reading(3, 7999, value, Quality.HOLD)]) == b"[3,7," + text + b",3]\n"


@given(text=PRINTABLE, t_ns=st.integers(0, MAX_T_NS))
def test_an_entry_comes_back_as_it_was(text: str, t_ns: int) -> None:
    for entry in (MarkEntry(t_ns=t_ns, text=text), EventEntry(t_ns=t_ns, kind="note", text=text)):
        assert decode_entry(encode_lines([entry])[:-1]) == entry


def test_a_machine_with_umlauts_and_nested_tables_comes_back() -> None:
    entry = MachineEntry(card={"title": "Gärtnerei Ölberg „zwei“", "sources": {"a": ["b", {"c": 1}]}})
    assert decode_entry(encode_lines([entry])[:-1]) == entry


@pytest.mark.parametrize(
    "line",
    [
        b"[0,1,2]",
        b"[0,1,2,0,0]",
        b"[0,1,NaN,0]",
        b"[0,1,1e400,0]",
        b'[0,1,"2",0]',
        b"[true,1,2,0]",
        b"[0,1.0,2,0]",
        b"[0,-1,2,0]",
        b"[-1,1,2,0]",
        b"[1024,1,2,0]",
        b"[0,4000000000000000001,2,0]",
        b"[0,1,2,10]",
        b"[0," + b"9" * 5000 + b",2,0]",
        b"[" * 100_000,
        b"[0,1,\xff,0]",
        b"[0,1,2,0] [0,1,2,0]",
        b"[0,1,2,0",
        b"[]",
        b"[",
    ],
)
def test_what_is_no_reading_is_refused_with_a_printable_reason(line: bytes) -> None:
    with pytest.raises(LineError) as refused:
        decode_row(line)
    assert str(refused.value).isprintable()
    assert len(str(refused.value)) < 250


@pytest.mark.parametrize(
    "line",
    [
        b"{}",
        b'{"entry":"surprise"}',
        b'{"entry":"mark","t_ns":"soon","text":""}',
        b'{"entry":"mark","t_ns":1,"text":"\xff"}',
        b'{"entry":"mark","t_ns":1,"text":"\\ud800"}',
        b'{"entry":"machine","card":' + b'{"a":' * 100_000,
        b'{"entry":"machine","card":' + b'{"a":' * 40 + b"1" + b"}" * 41,
        b'{"entry":"machine","card":{"a":' + b"[" * 40 + b"]" * 40 + b"}}",
        b'{"entry":"\x1b[2J"}',
        b'{"entry":"channel","channel":0,"quantity":"magic","unit":"V","instrument":"","address":"","card":{},'
        b'"card_channel":0}',
    ],
)
def test_what_is_no_entry_is_refused_with_a_printable_reason(line: bytes) -> None:
    with pytest.raises(LineError) as refused:
        decode_entry(line)
    assert str(refused.value).isprintable()


def test_no_text_of_an_entry_can_drive_a_terminal() -> None:
    nasty = "\x1b]0;owned\x07 a\tb\r\nc \u202e d \x9b2J \x7f"
    entry = VOLTS.__class__(
        channel=0,
        quantity=VOLTS.quantity,
        unit="V",
        instrument=nasty,
        address=nasty,
        card={nasty: [nasty, {"deep": nasty}]},
        card_channel=0,
    )
    got = decode_entry(encode_lines([entry])[:-1])
    assert isinstance(got, ChannelEntry)
    key, value = next(iter(got.card.items()))
    texts = [got.instrument, got.address, key, value[0], value[1]["deep"]]
    assert all(text.isprintable() for text in texts)
    assert got.instrument == "�]0;owned� a b  c � d �2J �"
    assert decode_entry(encode_lines([SESSION])[:-1]) == SESSION


@pytest.mark.parametrize("character", ["\u202e", "\x9b", "\x1b", "\x07", "\n", "\x00", "\x7f"])
@pytest.mark.parametrize("escaped", [True, False])
def test_it_does_not_matter_how_the_character_is_written(character: str, escaped: bool) -> None:
    text = json.dumps(character, ensure_ascii=escaped)
    if not escaped and character < " ":
        text = f'"\\u{ord(character):04x}"'
    entry = decode_entry(f'{{"entry":"mark","t_ns":1,"text":{text}}}'.encode())
    assert isinstance(entry, MarkEntry)
    assert entry.text in ("�", " ")


@pytest.mark.parametrize("text", ['a "b" c', "a / b", "ä", "a\\b"])
def test_what_is_harmless_stays(text: str) -> None:
    assert decode_entry(encode_lines([MarkEntry(t_ns=1, text=text)])[:-1]) == MarkEntry(t_ns=1, text=text)


def test_a_long_text_can_be_cut() -> None:
    assert clean_text("abcdef", limit=4) == "abc…"
    assert clean_text("abcd", limit=4) == "abcd"
