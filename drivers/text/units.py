"""The unit words that instruments print, and what they measure.

SI symbols and their prefixes are from the SI brochure (BIPM, 9th edition);
the spellings around them are common practice, no source.
"""

from __future__ import annotations

from enum import Enum
from typing import NamedTuple

from daq.driver_api import Quantity

__all__ = [
    "FUNCTION_WORDS",
    "MEASURED_WORDS",
    "RELATIVE_WORDS",
    "Coupling",
    "Kind",
    "Unit",
    "coupling_due",
    "kind_due",
    "unit_named",
]


class Kind(Enum):
    """What is measured, as far as a unit tells."""

    VOLTAGE = "voltage"
    CURRENT = "current"
    RESISTANCE = "resistance"
    FREQUENCY = "frequency"
    SPEED = "speed"
    TEMPERATURE = "temperature"
    OTHER = "other"


class Coupling(Enum):
    """Alternating or direct."""

    AC = "AC"
    DC = "DC"


class Unit(NamedTuple):
    """A unit word: value times ``factor`` plus ``offset`` is in the unit of record."""

    kind: Kind
    factor: float = 1.0
    coupling: Coupling | None = None
    offset: float = 0.0


_KIND_DUE = {
    Quantity.AC_VOLTAGE: Kind.VOLTAGE,
    Quantity.DC_VOLTAGE: Kind.VOLTAGE,
    Quantity.DC_CURRENT: Kind.CURRENT,
    Quantity.RESISTANCE: Kind.RESISTANCE,
    Quantity.FREQUENCY: Kind.FREQUENCY,
    Quantity.ROTATIONAL_SPEED: Kind.SPEED,
    Quantity.TEMPERATURE: Kind.TEMPERATURE,
}
_COUPLING_DUE = {
    Quantity.AC_VOLTAGE: Coupling.AC,
    Quantity.DC_VOLTAGE: Coupling.DC,
    Quantity.DC_CURRENT: Coupling.DC,
}

FUNCTION_WORDS: dict[str, Coupling | None] = {
    "AC": Coupling.AC,
    "~": Coupling.AC,
    "DC": Coupling.DC,
    "RMS": None,
    "TRMS": None,
    "TRUE": None,
}
"""Words that may stand between number and unit, in capitals."""

MEASURED_WORDS: dict[str, Kind] = {
    **dict.fromkeys(("RES", "RESISTANCE"), Kind.RESISTANCE),
    **dict.fromkeys(("FREQ", "FREQUENCY"), Kind.FREQUENCY),
    **dict.fromkeys(("TEMP", "TEMPERATURE"), Kind.TEMPERATURE),
    **dict.fromkeys(("CAP", "CAPACITANCE", "CONT", "CONTINUITY", "DIODE", "DIOD", "DUTY", "HFE"), Kind.OTHER),
}
"""Words for what an instrument is set to measure, in capitals (common practice, no source)."""
RELATIVE_WORDS = {"REL", "RELATIVE", "DELTA", "Δ", "∆"}
"""What is shown is the difference from a stored reading, not the quantity itself; in capitals."""

_PREFIXES = {"": 1.0, "m": 1e-3, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "n": 1e-9, "k": 1e3, "K": 1e3}
_LARGE = {"M": 1e6, "G": 1e9}


def _table() -> dict[str, Unit]:
    units: dict[str, Unit] = {}
    for prefix, factor in _PREFIXES.items():
        for symbol in ("V", "v", "Volt", "volt", "Volts", "volts"):
            units[prefix + symbol] = Unit(Kind.VOLTAGE, factor)
        for symbol in ("A", "Amp", "Amps", "amp", "amps"):
            units[prefix + symbol] = Unit(Kind.CURRENT, factor)
        units |= {prefix + symbol: Unit(Kind.CURRENT, factor) for symbol in ("AMP", "AMPS")}
    for prefix, factor in (_PREFIXES | _LARGE).items():
        for symbol in ("Ω", "Ω", "ohm", "Ohm", "ohms", "Ohms", "OHM", "OHMS"):
            units[prefix + symbol] = Unit(Kind.RESISTANCE, factor)
        for symbol in ("Hz", "hz", "HZ"):
            units[prefix + symbol] = Unit(Kind.FREQUENCY, factor)
        for symbol in ("F", "W", "VA", "H", "S"):
            units[prefix + symbol] = Unit(Kind.OTHER)
    # An instrument that prints capitals only means milli: no hand instrument shows megavolts.
    units |= {"MV": Unit(Kind.VOLTAGE, 1e-3), "MA": Unit(Kind.CURRENT, 1e-3), "UA": Unit(Kind.CURRENT, 1e-6)}
    units |= {"UV": Unit(Kind.VOLTAGE, 1e-6), "VOLT": Unit(Kind.VOLTAGE), "VOLTS": Unit(Kind.VOLTAGE)}
    units |= dict.fromkeys(
        ("s", "ms", "%", "dB", "dBm", "lx", "m/min", "ft/min", "m/s", "km/h"), Unit(Kind.OTHER)
    )
    for symbol, factor in (("V", 1.0), ("mV", 1e-3), ("MV", 1e-3), ("v", 1.0), ("mv", 1e-3)):
        _with_coupling(units, symbol, Kind.VOLTAGE, factor)
    for symbol, factor in (("A", 1.0), ("mA", 1e-3), ("MA", 1e-3), ("uA", 1e-6)):
        _with_coupling(units, symbol, Kind.CURRENT, factor)
    return units | _SPEED | _TEMPERATURE


def _with_coupling(units: dict[str, Unit], symbol: str, kind: Kind, factor: float) -> None:
    for coupling in Coupling:
        for word in (coupling.value, coupling.value.lower()):
            units[symbol + word] = units[word + symbol] = Unit(kind, factor, coupling)
    units[symbol + "~"] = Unit(kind, factor, Coupling.AC)


_SPEED = {
    word: Unit(Kind.SPEED)
    for word in (
        *("rpm", "RPM", "Rpm", "r/min", "R/MIN", "rev/min", "REV/MIN", "revs/min", "1/min", "1/MIN"),
        *("min-1", "min^-1", "MIN-1", "U/min"),
    )
} | dict.fromkeys(("rps", "RPS", "r/s", "rev/s"), Unit(Kind.SPEED, 60.0))
_TEMPERATURE = {
    **dict.fromkeys(("°C", "degC", "C", "DEGC"), Unit(Kind.TEMPERATURE)),
    **dict.fromkeys(("°F", "degF", "DEGF"), Unit(Kind.TEMPERATURE, 5 / 9, None, -160 / 9)),
}
_UNITS = _table()


def unit_named(word: str, due: Kind | None) -> Unit | None:
    """The unit a word names, or None where it names none.

    ``F`` alone is Fahrenheit where a temperature is due, farad elsewhere.
    """
    if word == "F" and due is Kind.TEMPERATURE:
        word = "°F"
    # The ohm sign has a code point of its own besides the letter omega.
    return _UNITS.get(word.replace("\u2126", "\u03a9"))


def kind_due(quantity: Quantity) -> Kind | None:
    """What kind of unit a channel's lines may carry; None where any may."""
    return _KIND_DUE.get(quantity)


def coupling_due(quantity: Quantity) -> Coupling | None:
    """Whether the channel is for alternating or direct; None where it does not matter."""
    return _COUPLING_DUE.get(quantity)
