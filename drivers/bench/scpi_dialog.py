"""What the meter says and does on its line: common commands, measuring, and the error queue."""

from __future__ import annotations

import math
from collections import deque

from .meter import FUNCTIONS, Meter
from .scpi_words import SyntaxTrouble, number, short_header, split_units, split_words

__all__ = ["ScpiDialog", "reading_text"]

_IDENTITY = "SPINVOLT,VIRTUAL-BENCH-METER,{seed},1"
_LONGEST_LINE = 512
_QUEUE_LENGTH = 16
_NO_ANSWER = ""
_POWER_ON = 128
_DONE = 1


def reading_text(value: float) -> str:
    """A reading in the NR3 form of IEEE 488.2; over range is 9.9E37 (SCPI-99 volume 1, 7.2.1)."""
    if math.isinf(value):
        return "+9.90000000E+37" if value > 0 else "-9.90000000E+37"
    return f"{value:+.8E}"


class ScpiDialog:
    """Takes bytes, gives bytes; holds an answer back until its reading is there.

    Commands wait their turn behind a reading that is still to come, as on a plain serial line.
    """

    def __init__(self, meter: Meter, seed: int = 1) -> None:
        self._meter = meter
        self._identity = _IDENTITY.format(seed=seed)
        self._input = b""
        self._too_long = False
        self._units: deque[str | None] = deque()
        self._answers: list[str] = []
        self._path = ""
        self._waiting_since_s: float | None = None
        self._errors: deque[tuple[int, str]] = deque()
        self._event_status = _POWER_ON
        self._masks = {"*ESE": 0, "*SRE": 0}

    def receive(self, data: bytes) -> None:
        """Take in bytes as they come; a line ends with a line feed, with or without a carriage return."""
        *lines, self._input = (self._input + data).split(b"\n")
        for line in lines:
            self._take_line(line)
        if len(self._input) > _LONGEST_LINE:
            self._input, self._too_long = b"", True

    def _take_line(self, line: bytes) -> None:
        if self._too_long or len(line) > _LONGEST_LINE:
            self._too_long = False
            self._fail(-363, "Input buffer overrun")
            return
        text = line.strip().decode("ascii", "replace")
        if text:
            self._units.extend(split_units(text))
            self._units.append(None)  # the line's end: now the answers go out

    def poll(self, t_s: float) -> bytes:
        """Go on as far as bench time ``t_s`` allows, and give what is to be sent."""
        sent = b""
        while True:
            if self._waiting_since_s is not None and not self._finish_reading():
                return sent
            if not self._units:
                return sent
            unit = self._units.popleft()
            if unit is None:
                sent += self._end_of_line()
            else:
                self._do(unit, t_s)

    def _end_of_line(self) -> bytes:
        answers, self._answers, self._path = self._answers, [], ""
        return (";".join(answers) + "\n").encode("ascii") if answers else b""

    def _finish_reading(self) -> bool:
        results = self._meter.results
        if not results or self._waiting_since_s is None or results[-1].ready_s <= self._waiting_since_s:
            return False
        self._waiting_since_s = None
        self._answers.append(reading_text(results[-1].value))
        return True

    def _do(self, unit: str, t_s: float) -> None:
        if not unit:
            return
        try:
            header, parameters = split_words(unit)
            command, self._path = short_header(header, self._path)
            self._command(command, parameters, t_s)
        except SyntaxTrouble as trouble:
            self._fail(trouble.code, trouble.text)

    def _command(self, command: str, parameters: list[str], t_s: float) -> None:
        verb, _, rest = command.rstrip("?").partition(":")
        asks = command.endswith("?")
        if verb in {"CONF", "MEAS"} and rest in FUNCTIONS and (asks == (verb == "MEAS")):
            self._configure(rest, parameters)
            if asks:
                self._waiting_since_s = t_s
        elif command == "READ?":
            self._waiting_since_s = t_s
        elif command == "FETC?":
            self._fetch()
        elif command == "FUNC":
            self._configure(_function_in_quotes(parameters), [])
        else:
            self._simple(command, parameters)

    def _simple(self, command: str, parameters: list[str]) -> None:
        if command in self._masks:
            self._set_mask(command, parameters)
            return
        if parameters:
            raise SyntaxTrouble(-108, "Parameter not allowed")
        answer = self._answer_to(command)
        if answer is None:
            raise SyntaxTrouble(-113, "Undefined header")
        if answer != _NO_ANSWER:
            self._answers.append(answer)

    def _answer_to(self, command: str) -> str | None:
        """The answer to a plain query, ``_NO_ANSWER`` for a command done, None for one that isn't known."""
        match command:
            case "*IDN?":
                return self._identity
            case "*OPC?":
                return "1"
            case "*TST?":
                return "0"
            case "*ESE?" | "*SRE?":
                return str(self._masks[command[:-1]])
            case "*STB?":
                return str(self._status_byte())
            case "*ESR?":
                status, self._event_status = self._event_status, 0
                return str(status)
            case "SYST:ERR?":
                return '{},"{}"'.format(*(self._errors.popleft() if self._errors else (0, "No error")))
            case "SYST:ERR:COUN?":
                return str(len(self._errors))
            case "SYST:VERS?":
                return "1999.0"
            case "FUNC?":
                return f'"{self._meter.function}"'
            case "CONF?":
                return f'"{self._meter.function} {self._meter.range_top:+.6E}"'
            case text if text == f"{self._meter.function}:RANG?":
                return f"{self._meter.range_top:+.6E}"
            case text if text == f"{self._meter.function}:RANG:AUTO?":
                return "0"
            case "*RST":
                self._meter.configure("VOLT:AC")
                return _NO_ANSWER
            case "*CLS":
                self._errors.clear()
                self._event_status = 0
                return _NO_ANSWER
            case "*OPC":
                self._event_status |= _DONE
                return _NO_ANSWER
            case "*WAI" | "SYST:REM" | "SYST:LOC" | "INIT" | "ABOR" | "STAT:PRES":
                return _NO_ANSWER
        return None

    def _configure(self, function: str, parameters: list[str]) -> None:
        if len(parameters) > 2:
            raise SyntaxTrouble(-108, "Parameter not allowed")
        expected = number(parameters[0]) if parameters else None
        try:
            self._meter.configure(function, expected)
        except ValueError:
            raise SyntaxTrouble(-222, "Data out of range") from None

    def _fetch(self) -> None:
        if not self._meter.results:
            raise SyntaxTrouble(-230, "Data corrupt or stale")
        self._answers.append(reading_text(self._meter.results[-1].value))

    def _set_mask(self, command: str, parameters: list[str]) -> None:
        if len(parameters) != 1:
            raise SyntaxTrouble(-109, "Missing parameter")
        mask = number(parameters[0])
        if mask is None or not 0 <= mask <= 255:
            raise SyntaxTrouble(-222, "Data out of range")
        self._masks[command] = round(mask)

    def _status_byte(self) -> int:
        """Error queue in bit 2 (SCPI-99), event summary in bit 5 and request in bit 6 (IEEE 488.2, 11.2)."""
        summary = (4 if self._errors else 0) | (32 if self._event_status & self._masks["*ESE"] else 0)
        return summary | (64 if summary & self._masks["*SRE"] else 0)

    def _fail(self, code: int, text: str) -> None:
        self._event_status |= _event_bit(code)
        if len(self._errors) == _QUEUE_LENGTH:
            self._errors[-1] = (-350, "Queue overflow")
            self._event_status |= _event_bit(-350)
        else:
            self._errors.append((code, text))


def _event_bit(code: int) -> int:
    """Which bit of the standard event status an error sets: its hundreds say (SCPI-99 volume 2, SYSTem:ERRor)."""
    return {1: 32, 2: 16, 3: 8, 4: 4}[-code // 100]


def _function_in_quotes(parameters: list[str]) -> str:
    if not parameters:
        raise SyntaxTrouble(-109, "Missing parameter")
    function, _ = short_header(parameters[0].strip("\"'"), "")
    if function not in FUNCTIONS:
        raise SyntaxTrouble(-224, "Illegal parameter value")
    return function
