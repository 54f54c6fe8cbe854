"""NMEA 0183: CHECKS rows W3 to W8; the generator does not use the driver's library."""

from __future__ import annotations

import pynmea2
import pytest

from daq.driver_api import CardError, InstrumentCard, Quality, Reading, parse_instrument_card
from drivers.nmea import DRIVER
from drivers.nmea.decoder import NmeaDecoder
from drivers.nmea.settings import parse_settings
from tests.drivers.nmea.generator import rpm, sentence, xdr

GGA = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
RMC = "GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W"

TWO_TACHS = """
name = "two-tachs"
title = "Two tachometers in one sentence"
protocol = "nmea"
[[settings.value]]
sentence = "XDR"
type = "T"
transducer = "MC042"
[[settings.value]]
sentence = "XDR"
type = "T"
transducer = "MC043"
[[channel]]
quantity = "rotational_speed"
[[channel]]
quantity = "rotational_speed"
"""


def card_of(values: str, *quantities: str, more: str = "") -> InstrumentCard:
    channels = "".join(f'[[channel]]\nquantity = "{quantity}"\n{more}\n' for quantity in quantities)
    text = f'name = "t"\ntitle = "t"\nprotocol = "nmea"\n{values}\n{channels}'
    return parse_instrument_card(text, origin="t.toml")


def feed(card: InstrumentCard, data: bytes) -> list[Reading]:
    return NmeaDecoder(card.channel, parse_settings(card)).feed(data, 7)


SPEED = card_of('[[settings.value]]\nsentence = "RPM"', "rotational_speed")


@pytest.mark.parametrize(
    ("body", "checksum"),
    [
        (GGA, "47"),  # W3: widely published example
        (RMC, "6A"),  # W4: recomputed
        ("ERXDR,T,78.0,R,MC042,T,78.1,R,MC043", "59"),  # W5
        ("IIRPM,E,1,2418.2,10.5,A", "5F"),  # W7
    ],
)
def test_published_checksums_pass_and_every_other_is_refused(body: str, checksum: str) -> None:
    assert sentence(body).decode().strip() == f"${body}*{checksum}"
    for number in range(256):
        readings = feed(SPEED, sentence(body, checksum=f"{number:02X}"))
        bad = [r for r in readings if r.quality is Quality.BAD_FRAME]
        assert bool(bad) == (f"{number:02X}" != checksum)


def test_two_tachometers_in_one_sentence() -> None:
    """W5: printed with *58 in a ship's-recorder manual, which does not match its own text."""
    card = parse_instrument_card(TWO_TACHS, origin="two-tachs.toml")
    body = "ERXDR,T,78.0,R,MC042,T,78.1,R,MC043"
    assert feed(card, sentence(body, checksum="59")) == [Reading(0, 7, 78.0), Reading(1, 7, 78.1)]
    assert feed(card, sentence(body, checksum="58")) == [Reading(0, 7, None, Quality.BAD_FRAME)]


@pytest.mark.parametrize(
    ("letter", "unit", "quantity"),
    [
        ("T", "R", "rotational_speed"),
        ("U", "V", "dc_voltage"),
        ("U", "V", "ac_voltage"),
        ("I", "A", "dc_current"),
        ("F", "H", "frequency"),
        ("C", "C", "temperature"),
        ("G", "", "resistance"),
    ],
)
def test_transducer_types_and_units(letter: str, unit: str, quantity: str) -> None:
    """W6."""
    card = card_of(f'[[settings.value]]\nsentence = "XDR"\ntype = "{letter}"', quantity)
    assert feed(card, xdr((letter, "12.5", unit, "X"))) == [Reading(0, 7, 12.5)]
    wrong = feed(card, xdr((letter, "12.5", "P", "X")))
    due = Reading(0, 7, None, Quality.WRONG_FUNCTION) if unit else Reading(0, 7, 12.5)
    assert wrong == [due]


@pytest.mark.parametrize(
    ("line", "value", "quality"),
    [
        (rpm("2418.2"), 2418.2, Quality.GOOD),
        (rpm("-2418.2"), 2418.2, Quality.GOOD),
        (rpm("2418.2", status="V"), None, Quality.NOT_A_NUMBER),
        (rpm("2418.2", status=""), None, Quality.NOT_A_NUMBER),
        (rpm(""), None, Quality.NOT_A_NUMBER),
        (rpm("nan"), None, Quality.BAD_FRAME),
        (rpm("inf"), None, Quality.BAD_FRAME),
        (rpm("1e9"), None, Quality.BAD_FRAME),
        (rpm("24 18"), None, Quality.BAD_FRAME),
        (sentence("IIRPM,E,1,2418.2,10.5,A", checksum=""), None, Quality.BAD_FRAME),
        (b"IIRPM,E,1,2418.2,10.5,A*5F\r\n", None, Quality.BAD_FRAME),
        (b"$IIRPM,E,1,2418.2,10.5,A*5F trailing\r\n", None, Quality.BAD_FRAME),
        (sentence("IIXDR,U,13.8,V"), None, Quality.BAD_FRAME),
        (b"$IIRPM," + b"9" * 2000 + b"\r\n", None, Quality.BAD_FRAME),
    ],
)
def test_what_a_sentence_is_worth(line: bytes, value: float | None, quality: Quality) -> None:
    """W7: "-" is counter-clockwise, V is not valid."""
    assert feed(SPEED, line) == [Reading(0, 7, value, quality)]


def test_the_sign_is_kept_where_the_card_asks_for_it() -> None:
    card = card_of('[[settings.value]]\nsentence = "RPM"\nsigned = true', "rotational_speed")
    assert feed(card, rpm("-2418.2")) == [Reading(0, 7, -2418.2)]


@pytest.mark.parametrize(
    "line",
    [
        rpm("900", source="S"),
        rpm("900", number="2"),
        rpm("900", talker="ER"),
        xdr(("U", "13.8", "V", "BATT")),
        sentence(GGA),
        sentence("PXYZ,1,2"),
        b"\r\n",
    ],
)
def test_sentences_that_are_not_wanted_are_let_pass(line: bytes) -> None:
    values = '[[settings.value]]\nsentence = "RPM"\ntalker = "II"\nsource = "E"\nnumber = 1'
    assert feed(card_of(values, "rotational_speed"), line) == []


def test_a_sentence_cut_short_at_the_end_is_a_bad_frame_of_its_own_moment() -> None:
    decoder = NmeaDecoder(SPEED.channel, parse_settings(SPEED))
    assert decoder.feed(b"$IIRPM,E,1,24", 11) == []
    assert decoder.flush() == [Reading(0, 11, None, Quality.BAD_FRAME)]
    assert decoder.flush() == []


def test_two_engines_never_mix_in_one_channel() -> None:
    lines = rpm("2000", number="1") + rpm("900", number="2") + rpm("2010", number="01")
    assert [r.value for r in feed(SPEED, lines)] == [2000.0, 2010.0]
    volts = card_of('[[settings.value]]\nsentence = "XDR"\ntype = "U"', "dc_voltage")
    both = xdr(("U", "13.8", "V", "ALT"), ("U", "12.6", "V", "BATT"))
    assert [r.value for r in feed(volts, both + both)] == [13.8, 13.8]


def test_scale_and_offset_of_the_channel_hold() -> None:
    card = card_of('[[settings.value]]\nsentence = "RPM"', "rotational_speed", more="scale = 0.5\noffset = 3")
    assert feed(card, rpm("2000")) == [Reading(0, 7, 1003.0)]


@pytest.mark.parametrize(
    ("values", "quantity", "complaint"),
    [
        ('[[settings.value]]\nsentence = "RPM"', "ac_voltage", "carries rotational_speed"),
        ('[[settings.value]]\nsentence = "XDR"', "ac_voltage", "type must be given"),
        ('[[settings.value]]\nsentence = "XDR"\ntype = "U"', "rotational_speed", "carries ac_voltage"),
        ('[[settings.value]]\nsentence = "GGA"', "ac_voltage", "value 1.sentence can't be 'GGA'; accepted: "),
        ('[[settings.value]]\nsentence = "RPM"\ntype = "T"', "rotational_speed", "belong to XDR"),
        ("[settings]\nvalue = []", "rotational_speed", "there are 0 and 1"),
        ('[[settings.value]]\nsentence = "RPM"\nengine = 1', "rotational_speed", "engine"),
    ],
)
def test_cards_that_make_no_sense_are_refused(values: str, quantity: str, complaint: str) -> None:
    with pytest.raises(CardError, match=complaint):
        DRIVER.check(card_of(values, quantity))


def test_the_library_agrees_with_the_generator() -> None:
    for body in (GGA, RMC, "ERXDR,T,78.0,R,MC042,T,78.1,R,MC043"):
        assert pynmea2.NMEASentence.checksum(body) == int(sentence(body).split(b"*")[1], 16)
