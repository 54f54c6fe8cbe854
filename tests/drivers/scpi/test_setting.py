"""Function and range of a SCPI instrument, read back and checked."""

from __future__ import annotations

import pytest

from daq.driver_api import ChannelCard, Quality, Quantity, Reading
from drivers.scpi.meter_setting import MeterSetting, short_function
from drivers.scpi.session import ScpiSession
from drivers.scpi.settings import ScpiSettings

S = 1_000_000_000
IDENTITY = b"NURSERY,BENCH,0,1\n"
NO_ERROR = b'0,"No error"\n'
READ = b"READ?\n"
SETTINGS = ScpiSettings(
    query="READ?",
    function_query="FUNC?",
    range_query="VOLT:AC:RANG?",
    auto_range_query="VOLT:AC:RANG:AUTO?",
    interval_s=0.2,
    check_every_s=2.0,
)


class Meter:
    """Answers what it is asked; ``None`` leaves a query unanswered and puts an error into the queue."""

    def __init__(
        self, settings: ScpiSettings = SETTINGS, scale: float = 1.0, quantity: Quantity = Quantity.AC_VOLTAGE
    ) -> None:
        self.session = ScpiSession(ChannelCard(quantity, scale=scale), settings)
        self.now_ns = 0
        self.errors: list[bytes] = []
        self.asked: list[bytes] = []
        self.answers: dict[bytes, bytes | None] = {
            READ: b"19.62\n",
            b"FUNC?\n": b'"VOLT:AC"\n',
            b"VOLT:AC:RANG?\n": b"+6.0E+01\n",
            b"VOLT:AC:RANG:AUTO?\n": b"0\n",
        }

    def run(self, seconds: float, until: int = 10_000) -> list[Reading]:
        """Go on for that long, or until so many readings have come."""
        readings: list[Reading] = []
        end_ns = self.now_ns + round(seconds * S)
        while self.now_ns < end_ns and len(readings) < until:
            for request in self.session.advance(self.now_ns).splitlines(keepends=True):
                self.asked.append(request)
                answer = self._answer(request)
                self.now_ns += S // 100
                readings += self.session.feed(answer, self.now_ns) if answer else []
            self.now_ns = max(self.session.due_ns(self.now_ns), self.now_ns + 1)
        return readings

    def _answer(self, request: bytes) -> bytes:
        if request == b"*IDN?\n":
            return IDENTITY
        if request == b"SYST:ERR?\n":
            return self.errors.pop(0) if self.errors else NO_ERROR
        if request == b"*CLS\n":
            return b""
        answer = self.answers[request]
        if answer is None:
            self.errors.append(b'-113,"Undefined header"\n')
        return answer or b""


def qualities(readings: list[Reading]) -> set[Quality]:
    return {reading.quality for reading in readings}


def test_what_it_is_set_to_is_read_back_behind_a_reading_now_and_then() -> None:
    meter = Meter()
    readings = meter.run(10.0)
    assert qualities(readings) == {Quality.GOOD}
    assert len(readings) > 30
    stamps = [reading.t_ns for reading in readings]
    assert stamps == sorted(stamps)
    assert meter.session.remarks[-2:] == ["The instrument is set to AC volts.", "Its range is 60 V."]
    assert 4 <= meter.asked.count(b"FUNC?\n") <= 6
    assert meter.asked.index(READ) < meter.asked.index(b"FUNC?\n")


def test_a_meter_on_ohms_is_refused_from_the_first_reading_in_words_that_say_what_to_turn() -> None:
    meter = Meter()
    meter.answers[b"FUNC?\n"] = b'"RES"\n'
    readings = meter.run(3.0)
    assert qualities(readings) == {Quality.WRONG_FUNCTION}
    assert meter.session.remarks[-1].startswith(
        "The instrument is set to ohms, not to AC volts: turn it to AC volts."
    )
    assert b"VOLT:AC:RANG?\n" not in meter.asked, "the range of volts says nothing on ohms"


def test_once_it_is_turned_right_its_readings_count() -> None:
    meter = Meter()
    meter.answers[b"FUNC?\n"] = b'"VOLT:DC"\n'
    assert qualities(meter.run(3.0)) == {Quality.WRONG_FUNCTION}
    meter.answers[b"FUNC?\n"] = b'"VOLT:AC"\n'
    meter.run(2.5)
    assert qualities(meter.run(3.0)) == {Quality.GOOD}
    assert "The instrument is set to AC volts." in meter.session.remarks


def test_one_that_does_not_know_the_questions_is_read_all_the_same() -> None:
    meter = Meter()
    for query in (b"FUNC?\n", b"VOLT:AC:RANG?\n", b"VOLT:AC:RANG:AUTO?\n"):
        meter.answers[query] = None
    readings = meter.run(30.0)
    assert qualities(readings) == {Quality.GOOD}
    assert len(readings) > 100
    stamps = [reading.t_ns for reading in readings]
    assert stamps == sorted(stamps)
    assert len(readings) >= meter.asked.count(READ) - 1, "none is lost on the way"
    assert meter.asked.count(b"FUNC?\n") == 1, "the error queue said at once that it is not known"
    assert sum("does not answer" in remark for remark in meter.session.remarks) == 3
    assert meter.session.timeouts == 0, "no reading was missed"


def test_one_without_an_error_queue_is_given_a_second_chance_and_no_third() -> None:
    meter = Meter(ScpiSettings(query="READ?", function_query="FUNC?", error_query="", setup=()))
    meter.answers[b"FUNC?\n"] = None
    readings = meter.run(20.0)
    assert meter.asked.count(b"FUNC?\n") == 2
    assert qualities(readings) == {Quality.GOOD}


def test_the_reading_that_waits_is_not_lost_when_the_link_ends() -> None:
    meter = Meter()
    meter.answers[b"FUNC?\n"] = None
    assert meter.run(0.1) == []
    assert [reading.value for reading in meter.session.flush()] == [19.62]


def test_overload_says_the_range_and_what_to_turn() -> None:
    meter = Meter()
    meter.answers[READ] = b"9.9E37\n"
    assert qualities(meter.run(3.0)) == {Quality.OVERLOAD}
    assert "The reading is over its range of 60 V: turn it to a higher range." in meter.session.remarks


def test_on_ohms_one_overload_is_an_open_circuit_on_auto_range_too() -> None:
    """A joint that opens for a moment is what the wiggle test looks for."""
    meter = Meter(quantity=Quantity.RESISTANCE)
    meter.answers[b"FUNC?\n"] = b'"RES"\n'
    meter.answers[b"VOLT:AC:RANG:AUTO?\n"] = b"1\n"
    assert qualities(meter.run(3.0)) == {Quality.GOOD}
    meter.answers[READ] = b"9.9E37\n"
    (reading,) = meter.run(3.0, until=1)
    assert reading.quality is Quality.OVERLOAD
    assert "The circuit is open, or has more ohms than the meter's range takes." in meter.session.remarks


def test_on_auto_range_one_overload_is_a_change_of_range_and_two_are_an_overload() -> None:
    meter = Meter()
    meter.answers[b"VOLT:AC:RANG:AUTO?\n"] = b"1\n"
    meter.run(1.0)
    meter.answers[READ] = b"9.9E37\n"
    got = [reading.quality for reading in meter.run(3.0, until=2)]
    assert got == [Quality.BLANK, Quality.OVERLOAD]
    assert "check what it may take" in meter.session.remarks[-1]
    meter.answers[READ] = b"19.62\n"
    assert [reading.quality for reading in meter.run(3.0, until=1)] == [Quality.GOOD]
    meter.answers[READ] = b"9.9E37\n"
    assert [reading.quality for reading in meter.run(3.0, until=1)] == [Quality.BLANK]


@pytest.mark.parametrize(("top", "told"), [(b"1000\n", True), (b"60\n", False)])
def test_a_range_much_too_high_is_told_once(top: bytes, told: bool) -> None:
    meter = Meter()
    meter.answers[b"VOLT:AC:RANG?\n"] = top
    assert qualities(meter.run(5.0)) == {Quality.GOOD}
    coarse = [remark for remark in meter.session.remarks if "coarse steps" in remark]
    assert len(coarse) == told
    meter.answers[b"VOLT:AC:RANG?\n"] = b"2000\n"
    meter.run(3.0)
    coarse_then = [remark for remark in meter.session.remarks if "range of 2000 V has coarse steps" in remark]
    assert len(coarse_then) == 1, "another range is told anew"
    if told:
        assert coarse == ["19.62 V on the range of 1000 V has coarse steps: turn to a lower range."]


def test_nothing_on_the_leads_is_no_range_too_high() -> None:
    setting = MeterSetting(Quantity.AC_VOLTAGE)
    setting.range_is(b"1000")
    setting.remarks.clear()
    setting.judged(0.02, Quality.GOOD)
    assert setting.remarks == []


def test_the_range_is_compared_in_the_meters_own_unit() -> None:
    """A clamp that gives 1 mV an ampere: 20 A are 0.02 V, and the card's scale makes amperes of it."""
    meter = Meter(scale=1000.0)
    meter.answers[READ] = b"0.02\n"
    meter.answers[b"VOLT:AC:RANG?\n"] = b"0.6\n"
    assert [reading.value for reading in meter.run(3.0, until=1)] == [pytest.approx(20.0)]
    assert not any("coarse" in remark for remark in meter.session.remarks[:4])


@pytest.mark.parametrize(
    ("answer", "function"),
    [
        (b'"VOLT:AC"', "VOLT:AC"),
        (b"VOLT:DC", "VOLT"),
        (b'"VOLTAGE"', "VOLT"),
        (b'"SENS:VOLTAGE:AC"', "VOLT:AC"),
        (b'"VOLT:AC +6.0E+01,+1.0E-05"', "VOLT:AC"),
        (b'"VOLT:AC","FREQ"', "VOLT:AC"),
        (b"fres", "FRES"),
        (b'""', ""),
        (b"\xff\xfe", "\ufffd\ufffd"),
    ],
)
def test_function_names_in_their_forms(answer: bytes, function: str) -> None:
    assert short_function(answer) == function


@pytest.mark.parametrize(
    ("quantity", "answer", "wrong"),
    [
        (Quantity.DC_VOLTAGE, b'"VOLT"', False),
        (Quantity.DC_VOLTAGE, b'"VOLT:AC"', True),
        (Quantity.RESISTANCE, b'"FRES"', False),
        (Quantity.FREQUENCY, b'"PER"', True),
        (Quantity.ROTATIONAL_SPEED, b'"FREQ"', False),
    ],
)
def test_what_fits_a_channel(quantity: Quantity, answer: bytes, wrong: bool) -> None:
    setting = MeterSetting(quantity)
    setting.function_is(answer)
    assert setting.wrong is wrong
