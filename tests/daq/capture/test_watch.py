"""Silence and junk, told once and in words; time is a number handed in."""

from __future__ import annotations

from daq.capture.watch import Health, Watch, useful_count
from daq.cards.instrument import ChannelCard, InstrumentCard, Response
from daq.driver_api import InstrumentStatus
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading

S = 1_000_000_000
CARD = InstrumentCard("text-volts", "a meter", "text", (ChannelCard(Quantity.AC_VOLTAGE),), silence_s=5.0)
GOOD = [Reading(0, 0, 19.6)]
BAD = [Reading(0, 0, None, Quality.BAD_FRAME)]


def watch() -> Watch:
    return Watch("text-volts", "/dev/ttyUSB0", CARD, 0)


def status(received: int = 0, last: bytes = b"") -> InstrumentStatus:
    return InstrumentStatus(bytes_received=received, last_bytes=last, awaited="a line with a number")


def test_nothing_for_five_seconds_is_silence_and_says_what_was_awaited_and_what_to_check() -> None:
    w = watch()
    assert w.check(status(), 5 * S - 1) is None
    found = w.check(status(), 5 * S)
    assert found is not None
    assert found.health is Health.SILENT
    assert found.text.startswith(
        "Nothing has come from text-volts (/dev/ttyUSB0) for 5 s: awaited a line with a number; "
        "last bytes seen: none. Check that it is switched on"
    )
    assert "9600 baud" in found.text


def test_an_instrument_that_reads_every_few_seconds_may_be_silent_for_three_of_them() -> None:
    slow = ChannelCard(Quantity.AC_VOLTAGE, response=Response(interval_s=4.0))
    quick = ChannelCard(Quantity.FREQUENCY, response=Response(interval_s=0.5))
    card = InstrumentCard("slow", "a slow meter", "text", (quick, slow, ChannelCard(Quantity.DC_VOLTAGE)))
    w = Watch("slow", "/dev/ttyUSB0", card, 0)
    assert w.check(status(), 12 * S - 1) is None
    found = w.check(status(), 12 * S)
    assert found is not None
    assert " for 12 s: " in found.text


def test_silence_is_told_once() -> None:
    w = watch()
    assert w.check(status(), 5 * S) is not None
    assert w.check(status(), 6 * S) is None
    assert w.check(status(), 600 * S) is None


def test_the_last_bytes_are_shown_printable() -> None:
    w = watch()
    w.readings(GOOD, status(10, b"19.6 V\r\n"), 1 * S)
    assert w.check(status(10, b"19.6 V\r\n"), 6 * S - 1) is None
    found = w.check(status(13, b"19.6 V\r\n\x00\xff'"), 6 * S)
    assert found is not None
    assert r"last bytes seen: '19.6 V\r\n\x00\xff" in found.text
    assert found.text.startswith("No reading has come from")
    assert found.text.isprintable()


def test_only_bad_frames_are_junk_with_advice() -> None:
    w = watch()
    w.readings(BAD, status(40, b"\x80\x80"), 1 * S)
    found = w.check(status(40, b"\x80\x80"), 5 * S)
    assert found is not None
    assert found.health is Health.JUNK
    assert r"sent only junk for 5 s" in found.text
    assert r"'\x80\x80'" in found.text
    assert "line speed (the card says 9600 baud, 8 data bits, parity none)" in found.text


def test_silence_that_turns_into_junk_is_told_anew_and_not_the_other_way_round() -> None:
    w = watch()
    assert w.check(status(), 5 * S) is not None
    w.readings(BAD, status(5, b"x"), 6 * S)
    found = w.check(status(5, b"x"), 7 * S)
    assert found is not None
    assert found.health is Health.JUNK
    assert w.check(status(5, b"x"), 60 * S) is None


def test_a_reading_ends_the_trouble_and_says_how_long_it_was() -> None:
    w = watch()
    assert w.readings(GOOD, status(8), 1 * S) is None
    w.check(status(8), 6 * S)
    found = w.readings(GOOD, status(16), 8 * S)
    assert found is not None
    assert found.health is Health.WELL
    assert "sends readings again, after 7.0 s" in found.text
    assert w.check(status(16), 12 * S) is None


def test_an_overload_is_a_reading_and_a_bad_frame_or_a_loss_is_none() -> None:
    kinds = [Reading(0, 0, None, quality) for quality in Quality if quality is not Quality.GOOD]
    assert useful_count(kinds) == len(kinds) - 2
    assert useful_count([Reading(0, 0, None, Quality.BAD_FRAME), Reading(0, 0, None, Quality.LOST)]) == 0
