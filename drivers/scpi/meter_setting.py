"""What the instrument says it is set to, against what the card is for. Pure: answers in, judgements and words out.

Function names are those of SCPI-99 (volume 2, SENSe:FUNCtion), in short or long form, with the optional
``SENSe`` in front and ``DC`` behind left out; from memory of the standard.
"""

from __future__ import annotations

from daq.driver_api import Quality, Quantity
from drivers.scpi.numbers import parse_number

__all__ = ["MeterSetting", "short_function"]

_SHORT = {
    "VOLTAGE": "VOLT",
    "CURRENT": "CURR",
    "RESISTANCE": "RES",
    "FRESISTANCE": "FRES",
    "FREQUENCY": "FREQ",
    "PERIOD": "PER",
    "TEMPERATURE": "TEMP",
    "CAPACITANCE": "CAP",
    "CONTINUITY": "CONT",
    "DIODE": "DIOD",
}
_FITS: dict[Quantity, tuple[str, ...]] = {
    Quantity.AC_VOLTAGE: ("VOLT:AC",),
    Quantity.DC_VOLTAGE: ("VOLT",),
    Quantity.DC_CURRENT: ("CURR",),
    Quantity.RESISTANCE: ("RES", "FRES"),
    Quantity.FREQUENCY: ("FREQ", "FREQ:VOLT"),
    Quantity.TEMPERATURE: ("TEMP",),
}
_WORDS = {
    "VOLT:AC": "AC volts",
    "VOLT": "DC volts",
    "CURR:AC": "AC amps",
    "CURR": "DC amps",
    "RES": "ohms",
    "FRES": "ohms with four leads",
    "FREQ": "frequency",
    "PER": "period",
    "TEMP": "temperature",
    "CAP": "capacitance",
    "CONT": "continuity",
    "DIOD": "diode test",
}
_COARSE = (0.002, 0.03)
"""A reading between these shares of the range has coarse steps; below, there may simply be nothing to measure."""


def short_function(answer: bytes) -> str:
    """The function in an answer such as ``"VOLT:AC"``, ``"SENS:VOLTAGE:DC"`` or ``"VOLT:AC +6.0E+01,+1E-05"``."""
    text = answer.decode("ascii", "replace").strip().strip("\"'").upper()
    first = text.replace(",", " ").split()[0] if text.replace(",", " ").split() else ""
    words = [_SHORT.get(word, word) for word in first.strip("\"':").split(":")]
    words = [word for word in words if word not in {"SENS", "SENSE"}]
    if words[1:] == ["DC"] and words[0] in {"VOLT", "CURR"}:
        words = words[:1]
    return ":".join(words)


class MeterSetting:
    """Function and range of the instrument, as far as it has told them.

    Args:
        quantity: what the channel is for.

    Attributes:
        remarks: sentences for the recording; whoever takes them empties the list.
        wrong: the instrument has said that it measures something else.
    """

    def __init__(self, quantity: Quantity) -> None:
        self.remarks: list[str] = []
        self.wrong = False
        self._quantity = quantity
        self._due = quantity.value.replace("_", " ")
        for function in _FITS.get(quantity, ()):
            self._due = _WORDS[function]
            break
        self._function: str | None = None
        self._range: float | None = None
        self._auto = False
        self._told: set[str] = set()
        self._overloads = 0

    def function_is(self, answer: bytes) -> None:
        """Take the answer to the function query."""
        function = short_function(answer)
        fits = _FITS.get(self._quantity, ())
        before, self._function = self._function, function
        self.wrong = bool(fits) and function not in fits
        if function == before:
            return
        self._range = None
        self._told.clear()
        words = _WORDS.get(function, repr(function))
        if self.wrong:
            self.remarks.append(
                f"The instrument is set to {words}, not to {self._due}: turn it to {self._due}. "
                "Its readings are flagged until then."
            )
        else:
            self.remarks.append(f"The instrument is set to {words}.")

    def range_is(self, answer: bytes) -> bool:
        """Take the answer to the range query; whether it was a number."""
        number = parse_number(answer)
        if number is None or number[0] is None or number[0] <= 0:
            return False
        if number[0] != self._range:
            self._range = number[0]
            self._told.clear()
            self.remarks.append(f"Its range is {self._range:g} {self._quantity.unit}.")
        return True

    def auto_is(self, answer: bytes) -> bool:
        """Take the answer to the auto-range query; whether it was one."""
        word = answer.strip().upper()
        if word not in (b"0", b"1", b"ON", b"OFF", b"+0", b"+1"):
            return False
        self._auto = word in (b"1", b"ON", b"+1")
        return True

    def judged(self, value: float | None, quality: Quality) -> Quality:
        """The quality of a reading in the light of the setting.

        On auto-range a single overload between two readings is a change of range, not an overload.
        """
        if quality is Quality.OVERLOAD:
            self._overloads += 1
            # On ohms every overload counts: an open circuit is what a wiggle test looks for, however short.
            if self._auto and self._overloads == 1 and self._quantity is not Quantity.RESISTANCE:
                quality = Quality.BLANK
            else:
                self._tell_overload()
        else:
            self._overloads = 0
        if self.wrong:
            return Quality.WRONG_FUNCTION
        if quality is Quality.GOOD and value is not None:
            self._look_at_steps(abs(value))
        return quality

    def _tell_overload(self) -> None:
        if self._quantity is Quantity.RESISTANCE:
            self._tell("overload", "The circuit is open, or has more ohms than the meter's range takes.")
            return
        over = f"its range of {self._range:g} {self._quantity.unit}" if self._range else "its range"
        what = "take the leads off and check what it may take" if self._auto else "turn it to a higher range"
        self._tell("overload", f"The reading is over {over}: {what}.")

    def _look_at_steps(self, value: float) -> None:
        if self._range is None or self._auto:
            return
        if _COARSE[0] * self._range < value < _COARSE[1] * self._range:
            unit = self._quantity.unit
            self._tell(
                "coarse",
                f"{value:g} {unit} on the range of {self._range:g} {unit} has coarse steps: turn to a lower range.",
            )

    def _tell(self, key: str, sentence: str) -> None:
        """Once for each setting."""
        if key not in self._told:
            self._told.add(key)
            self.remarks.append(sentence)
