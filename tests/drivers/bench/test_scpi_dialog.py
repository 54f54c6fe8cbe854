"""What the meter answers on its line: SCPI-99 and IEEE 488.2, as bytes."""

from __future__ import annotations

import math
import re

import pytest

from drivers.bench.model import Bench, BenchSetup
from drivers.bench.scpi_dialog import ScpiDialog, reading_text


class Line:
    """A meter with its line, on bench time."""

    def __init__(self, leads: str = "stator", script: str = "work") -> None:
        self.bench = Bench(BenchSetup(script=script, leads=leads))
        self.dialog = ScpiDialog(self.bench.meter)

    def ask(self, text: str, wait_s: float = 1.2) -> str:
        """Send a line and give what comes within the time, without its end."""
        self.dialog.receive(text.encode("ascii") + b"\n")
        answer = self.dialog.poll(self.bench.t_s)
        for _ in range(round(wait_s / 0.005)):
            self.bench.step()
            answer += self.dialog.poll(self.bench.t_s)
        return answer.decode("ascii").removesuffix("\n")


@pytest.fixture
def line() -> Line:
    return Line()


def test_says_who_it_is_in_four_fields(line: Line) -> None:
    assert len(line.ask("*IDN?").split(",")) == 4


@pytest.mark.parametrize(
    "query",
    [
        "MEAS:VOLT:AC?",
        "meas:volt:ac?",
        "MEASure:VOLTage:AC?",
        "MEASURE:SCALAR:VOLTAGE:AC?",
        ":MEAS:SCAL:VOLT:AC? 50,0.01",
        "CONF:VOLT:AC;:READ?",
        "CONF:VOLT:AC AUTO;:READ?",
        'SENS:FUNC "VOLT:AC";:READ?',
        "  Read?  ",
        "*RST;*CLS;MEAS:VOLT:AC?",
    ],
)
def test_reads_alternating_volts_however_it_is_spelled(line: Line, query: str) -> None:
    answer = line.ask(query)
    assert re.fullmatch(r"\+\d\.\d{8}E[+-]\d\d", answer)
    assert float(answer) == pytest.approx(28.0, rel=0.05)
    assert line.ask("SYST:ERR?", 0.0) == '0,"No error"'


@pytest.mark.parametrize(
    ("sent", "error"),
    [
        ("BOGUS", '-113,"Undefined header"'),
        ("MEAS:VOLT:XY?", '-113,"Undefined header"'),
        ("MEAS:VOLTS:AC?", '-113,"Undefined header"'),
        ("MEASU:VOLT:AC?", '-113,"Undefined header"'),
        ("CONF:VOLT:AC;READ?", '-113,"Undefined header"'),
        ("MEAS:VOLT:AC", '-113,"Undefined header"'),
        ("*IDN", '-113,"Undefined header"'),
        ("*IDN? 3", '-108,"Parameter not allowed"'),
        ("CONF:VOLT:AC 1,2,3", '-108,"Parameter not allowed"'),
        ("CONF:VOLT:AC much", '-104,"Data type error"'),
        ("CONF:VOLT:AC nan", '-104,"Data type error"'),
        ("CONF:VOLT:AC 1e6", '-222,"Data out of range"'),
        ("CONF:VOLT:AC 1,,2", '-102,"Syntax error"'),
        ("FUNC", '-109,"Missing parameter"'),
        ('FUNC "CURR:HEAT"', '-113,"Undefined header"'),
        ('FUNC "VOLT:FREQ"', '-224,"Illegal parameter value"'),
        ("*ESE", '-109,"Missing parameter"'),
        ("*ESE 300", '-222,"Data out of range"'),
        ("FETC?", '-230,"Data corrupt or stale"'),
        ("\xff\xfe".encode().decode("ascii", "replace"), '-113,"Undefined header"'),
        ("X" * 600, '-363,"Input buffer overrun"'),
    ],
)
def test_what_it_can_not_take_goes_to_the_error_queue_unanswered(line: Line, sent: str, error: str) -> None:
    line.dialog.receive(sent.encode("utf-8") + b"\n")
    assert line.dialog.poll(0.0) == b""
    assert line.ask("SYST:ERR:COUN?", 0.0) == "1"
    assert line.ask("SYSTem:ERRor:NEXT?", 0.0) == error
    assert line.ask("SYST:ERR?", 0.0) == '0,"No error"'


def test_bytes_without_an_end_are_not_hoarded(line: Line) -> None:
    for _ in range(100):
        line.dialog.receive(b"X" * 100)
    assert len(line.dialog._input) <= 612
    line.dialog.receive(b"\n")
    assert line.ask("SYST:ERR?", 0.0) == '-363,"Input buffer overrun"'
    assert line.ask("SYST:ERR:COUN?", 0.0) == "0"


def test_errors_queue_oldest_first_and_an_overflow_is_told(line: Line) -> None:
    line.ask("NO1;*IDN? 1;" + ";".join(["NO"] * 30), 0.0)
    errors = [line.ask("SYST:ERR?", 0.0) for _ in range(17)]
    assert errors[0] == '-113,"Undefined header"'
    assert errors[1] == '-108,"Parameter not allowed"'
    assert errors[15] == '-350,"Queue overflow"'
    assert errors[16] == '0,"No error"'


def test_clearing_empties_the_queue(line: Line) -> None:
    line.ask("BOGUS;*CLS", 0.0)
    assert line.ask("SYST:ERR?", 0.0) == '0,"No error"'


def test_several_queries_in_a_line_answer_in_one_line(line: Line) -> None:
    idn, volts, error = line.ask("*IDN?;MEAS:VOLT:AC?;:SYST:ERR?").split(";")
    assert "VIRTUAL" in idn
    assert float(volts) > 20.0
    assert error == '0,"No error"'


def test_a_header_without_a_colon_goes_on_from_the_one_before(line: Line) -> None:
    assert line.ask("BOGUS;SYST:ERR:COUN?;NEXT?", 0.0) == '1;-113,"Undefined header"'
    line.ask("SYST:VERS?;MEAS:VOLT:AC?", 0.0)
    assert line.ask("SYST:ERR?", 0.0) == '-113,"Undefined header"'


def test_status_bits(line: Line) -> None:
    # IEEE 488.2, 11.5.1: power on 128, command error 32, execution error 16, device error 8, done 1
    assert line.ask("*ESR?", 0.0) == "128"
    line.ask("BOGUS;CONF:VOLT:AC 1e6;*OPC", 0.0)
    assert line.ask("*STB?", 0.0) == "4"
    assert line.ask("*ESE 32;*SRE 32;*ESE?;*STB?", 0.0) == "32;100"
    assert line.ask("*ESR?", 0.0) == str(32 + 16 + 1)
    assert line.ask("*ESR?;*STB?;*OPC?;*TST?", 0.0) == "0;4;1;0"
    assert line.ask("X" * 600 + "\n*ESR?", 0.0) == "8"


def test_a_reading_is_newer_than_the_question_and_fetch_gives_the_last(line: Line) -> None:
    line.bench.step(5.0)
    newest = line.bench.meter.results[-1]
    assert float(line.ask("FETC?", 0.0)) == pytest.approx(newest.value)
    assert line.ask("READ?", 0.0) == ""
    line.bench.step(0.4)
    answer = line.dialog.poll(line.bench.t_s)
    assert float(answer) == pytest.approx(line.bench.meter.results[-1].value)
    assert line.bench.meter.results[-1].ready_s > newest.ready_s


def test_commands_wait_behind_a_reading_to_come(line: Line) -> None:
    answers = line.ask("READ?\n*OPC?\nREAD?", 2.0).split("\n")
    assert [len(answer) for answer in answers] == [15, 1, 15]


def test_bytes_one_by_one_are_the_same_line(line: Line) -> None:
    for byte in b"*OPC?;SYST:VERS?\r\n":
        assert line.dialog.poll(0.0) == b""
        line.dialog.receive(bytes([byte]))
    assert line.dialog.poll(0.0) == b"1;1999.0\n"


def test_tells_its_function_and_range(line: Line) -> None:
    assert line.ask("FUNC?", 0.0) == '"VOLT:AC"'
    assert line.ask("CONF:VOLT:DC 10;:FUNC?;:CONF?", 0.0) == '"VOLT";"VOLT +6.000000E+01"'


@pytest.mark.parametrize(
    ("value", "text"),
    # SCPI-99 volume 1, 7.2.1.4: infinity is the number 9.9E37
    [(math.inf, "+9.90000000E+37"), (-math.inf, "-9.90000000E+37"), (-0.5, "-5.00000000E-01")],
)
def test_numbers_on_the_line(value: float, text: str) -> None:
    assert reading_text(value) == text


def test_ohms_of_a_running_machine_are_over_range() -> None:
    assert Line("stator", "work").ask("MEAS:RES?") == "+9.90000000E+37"
    # the winding's 0.25 ohm, and the 0.02 ohm of the meter's own leads
    assert float(Line("stator", "stopped").ask("MEAS:RES?")) == pytest.approx(0.27, abs=0.02)


def test_ohms_of_an_open_pair_of_leads_are_over_range() -> None:
    line = Line("nothing", "stopped")
    assert line.ask("MEAS:RES?") == "+9.90000000E+37"


@pytest.mark.parametrize(
    ("leads", "query", "value", "within"),
    [
        ("battery", "MEAS:VOLT:DC?", 12.8, 0.5),
        ("battery", "MEAS:VOLT?", 12.8, 0.5),
        ("load_current", "MEAS:CURR:DC?", 6.2, 0.4),
        ("stator", "MEAS:FREQ?", 360.0, 4.0),
        ("shorted", "MEAS:RES?", 0.02, 0.02),
        ("wiring", "MEAS:VOLT:DC?", 0.2, 0.04),
    ],
)
def test_other_functions_on_other_places(leads: str, query: str, value: float, within: float) -> None:
    assert float(Line(leads).ask(query)) == pytest.approx(value, abs=within)


def test_range_of_the_function_that_is_on_is_read_back(line: Line) -> None:
    assert line.ask("CONF:VOLT:AC 20;:VOLT:AC:RANG?", 0.1) == "+6.000000E+01"
    assert line.ask("SENSE:VOLTAGE:AC:RANGE:UPPER?", 0.1) == "+6.000000E+01"
    assert line.ask("VOLT:AC:RANG:AUTO?", 0.1) == "0"
    assert line.ask("RES:RANG?", 0.1) == ""
    assert line.ask("SYST:ERR?", 0.0).startswith("-113")
