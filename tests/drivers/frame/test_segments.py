"""The seven-segment frame, drawn from pictures of digits."""

from __future__ import annotations

import pytest

from daq.driver_api import ChannelCard, Quality, Quantity, Reading
from drivers.frame.decoder import FrameDecoder
from drivers.frame.segments import SegmentLayout, read_display
from drivers.frame.settings import SegmentFrame
from tests.drivers.frame.drawing import segment_frame


def decoder_for(quantity: Quantity, celsius_bit: int | None = None) -> FrameDecoder:
    settings = SegmentFrame("segments", celsius_bit)  # type: ignore[arg-type] # one of the literals
    return FrameDecoder(SegmentLayout(ChannelCard(quantity), settings))


def judged(frame: bytes, quantity: Quantity, celsius_bit: int | None = None) -> tuple[float | None, Quality]:
    (reading,) = decoder_for(quantity, celsius_bit).feed(frame, 1)
    return reading.value, reading.quality


def test_known_frame_byte_by_byte() -> None:
    """19.62 V AC, worked out by hand from the table (from memory): 1 9. 6 2."""
    frame = bytes.fromhex("1B 20 35 43 5F 6F 7E 85 9B A0 B0 C0 D4 E0")
    assert segment_frame("19.62", "AC", "V", "auto", "link") == frame
    assert judged(frame, Quantity.AC_VOLTAGE) == (19.62, Quality.GOOD)


@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("digit", "0123456789")
def test_every_digit_in_every_place(digit: str, place: int) -> None:
    shown = "".join(digit if n == place else "8" for n in range(4))
    assert judged(segment_frame(shown, "AC", "V"), Quantity.AC_VOLTAGE) == (float(shown), Quality.GOOD)


@pytest.mark.parametrize("display", ["1962", "196.2", "19.62", "1.962", "-1.962", "  62", "-  62", "0.000"])
def test_point_and_sign(display: str) -> None:
    value = float(display.replace(" ", ""))
    assert judged(segment_frame(display, "DC", "V"), Quantity.DC_VOLTAGE) == (value, Quality.GOOD)


@pytest.mark.parametrize(
    ("symbols", "quantity", "factor"),
    [
        (("AC", "V"), Quantity.AC_VOLTAGE, 1.0),
        (("AC", "V", "m"), Quantity.AC_VOLTAGE, 1e-3),
        (("DC", "V"), Quantity.DC_VOLTAGE, 1.0),
        (("DC", "A"), Quantity.DC_CURRENT, 1.0),
        (("DC", "A", "u"), Quantity.DC_CURRENT, 1e-6),
        (("DC", "A", "n"), Quantity.DC_CURRENT, 1e-9),
        (("ohm",), Quantity.RESISTANCE, 1.0),
        (("ohm", "k"), Quantity.RESISTANCE, 1e3),
        (("ohm", "M"), Quantity.RESISTANCE, 1e6),
        (("Hz",), Quantity.FREQUENCY, 1.0),
        (("Hz", "k"), Quantity.FREQUENCY, 1e3),
    ],
)
def test_functions_and_multipliers(symbols: tuple[str, ...], quantity: Quantity, factor: float) -> None:
    value, quality = judged(segment_frame("12.34", *symbols), quantity)
    assert value == pytest.approx(12.34 * factor, rel=1e-12)
    assert quality is Quality.GOOD


FUNCTIONS = {
    Quantity.AC_VOLTAGE: ("AC", "V"),
    Quantity.DC_VOLTAGE: ("DC", "V"),
    Quantity.DC_CURRENT: ("DC", "A"),
    Quantity.RESISTANCE: ("ohm",),
    Quantity.FREQUENCY: ("Hz",),
}


@pytest.mark.parametrize("due", FUNCTIONS)
@pytest.mark.parametrize("shown", FUNCTIONS)
def test_each_function_is_good_for_one_quantity_alone(due: Quantity, shown: Quantity) -> None:
    value, quality = judged(segment_frame("12.34", *FUNCTIONS[shown]), due)
    assert quality is (Quality.GOOD if due is shown else Quality.WRONG_FUNCTION)
    if due.unit != shown.unit:
        assert value is None, "volts are no ohms"


@pytest.mark.parametrize(
    ("symbols", "sentence"),
    [
        (("DC", "V"), "The meter is on DC volts, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (
            ("AC", "DC", "V"),
            "The meter is on AC+DC volts, but AC volts (V~) are due: turn it to AC volts (V~).",
        ),
        (("V",), "The meter is on volts, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("ohm", "k"), "The meter is on ohms, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("AC", "A"), "The meter is on AC amperes, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("diode", "V"), "The meter is on diode test, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("beep", "ohm"), "The meter is on continuity, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("F", "n"), "The meter is on capacitance, but AC volts (V~) are due: turn it to AC volts (V~)."),
        (("%",), "The meter is on duty cycle (%), but AC volts (V~) are due: turn it to AC volts (V~)."),
        (
            ("REL", "AC", "V"),
            "The meter is on relative (REL) AC volts, but AC volts (V~) are due: switch REL off.",
        ),
        (
            (),
            "The meter is on a function without a unit, but AC volts (V~) are due: turn it to AC volts (V~).",
        ),
    ],
)
def test_a_wrong_function_says_what_to_turn_and_says_it_once(symbols: tuple[str, ...], sentence: str) -> None:
    decoder = decoder_for(Quantity.AC_VOLTAGE)
    wrong, right = segment_frame("12.34", *symbols), segment_frame("12.34", "AC", "V")
    readings = decoder.feed(wrong * 5, 1)
    assert {r.quality for r in readings} == {Quality.WRONG_FUNCTION}
    assert decoder.remarks == [sentence]
    assert decoder.feed(right, 2) == [Reading(0, 2, 12.34)]
    decoder.feed(wrong, 3)
    assert decoder.remarks == [sentence] * 2, "and again when it is turned there again"


@pytest.mark.parametrize("display", ["0L", "0.L", " 0L ", ".0L", "-0L"])
def test_overload(display: str) -> None:
    assert judged(segment_frame(display, "AC", "V"), Quantity.AC_VOLTAGE) == (None, Quality.OVERLOAD)
    ohms = judged(segment_frame(display, "ohm", "M"), Quantity.AC_VOLTAGE)
    assert ohms == (None, Quality.WRONG_FUNCTION), "open leads on ohms are no overload of volts"


@pytest.mark.parametrize(
    ("symbols", "quality"),
    [(("HOLD",), Quality.HOLD), (("BAT",), Quality.LOW_BATTERY), (("BAT", "HOLD"), Quality.LOW_BATTERY)],
)
def test_hold_and_low_battery(symbols: tuple[str, ...], quality: Quality) -> None:
    assert judged(segment_frame("12.34", "AC", "V", *symbols), Quantity.AC_VOLTAGE) == (12.34, quality)
    wrong = judged(segment_frame("12.34", "DC", "V", *symbols), Quantity.AC_VOLTAGE)
    assert wrong == (12.34, Quality.WRONG_FUNCTION), "the wrong function is the graver fault"


def test_a_blank_display_between_two_ranges() -> None:
    assert judged(segment_frame("", "AC", "V"), Quantity.AC_VOLTAGE) == (None, Quality.BLANK)
    assert judged(segment_frame("", "AC", "V", "BAT"), Quantity.AC_VOLTAGE) == (None, Quality.BLANK)


@pytest.mark.parametrize(
    "frame",
    [
        segment_frame("1 34", "AC", "V"),
        segment_frame("12 L", "AC", "V"),
        segment_frame("12.34", "AC", "V", "A"),
        segment_frame("12.34", "AC", "V", "m", "k"),
    ],
)
def test_displays_that_no_meter_shows(frame: bytes) -> None:
    assert judged(frame, Quantity.AC_VOLTAGE) == (None, Quality.BAD_FRAME)


def test_two_points_are_no_number() -> None:
    frame = bytearray(segment_frame("1.234", "AC", "V"))
    frame[5] |= 8
    assert judged(bytes(frame), Quantity.AC_VOLTAGE) == (None, Quality.BAD_FRAME)


def test_segments_that_form_no_digit() -> None:
    frame = bytearray(segment_frame("1234", "AC", "V"))
    frame[1] |= 4  # segment e beside the 1
    assert read_display(bytes(frame)).characters == "?234"
    assert judged(bytes(frame), Quantity.AC_VOLTAGE) == (None, Quality.BAD_FRAME)


def test_degrees_celsius_where_the_card_says_which_bit() -> None:
    frame = segment_frame("41.5", "c2")
    assert judged(frame, Quantity.TEMPERATURE, celsius_bit=2) == (41.5, Quality.GOOD)
    assert judged(frame, Quantity.TEMPERATURE) == (None, Quality.WRONG_FUNCTION)
    assert judged(frame, Quantity.TEMPERATURE, celsius_bit=4) == (None, Quality.WRONG_FUNCTION)


def test_a_byte_lost_or_out_of_turn_costs_one_frame() -> None:
    frame = segment_frame("12.34", "AC", "V")
    for place in range(14):
        decoder = decoder_for(Quantity.AC_VOLTAGE)
        readings = decoder.feed(frame[:place] + frame[place + 1 :] + frame + frame, 1)
        assert [r.quality for r in readings] == [Quality.BAD_FRAME, Quality.GOOD, Quality.GOOD]
