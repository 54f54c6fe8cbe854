"""The words of the meter's command language: long and short forms, optional words, parameters.

Written from the rules of SCPI-99 volume 1 (syntax) and IEEE 488.2, and only for
the bench; the programs that read meters have their own.
"""

from __future__ import annotations

__all__ = ["SyntaxTrouble", "number", "short_header", "split_units", "split_words"]

_LONG_TO_SHORT = {
    "MEASURE": "MEAS",
    "CONFIGURE": "CONF",
    "FETCH": "FETC",
    "SENSE": "SENS",
    "SCALAR": "SCAL",
    "VOLTAGE": "VOLT",
    "CURRENT": "CURR",
    "RESISTANCE": "RES",
    "FREQUENCY": "FREQ",
    "FUNCTION": "FUNC",
    "SYSTEM": "SYST",
    "ERROR": "ERR",
    "VERSION": "VERS",
    "INITIATE": "INIT",
    "IMMEDIATE": "IMM",
    "ABORT": "ABOR",
    "REMOTE": "REM",
    "LOCAL": "LOC",
    "RANGE": "RANG",
    "APERTURE": "APER",
    "STATUS": "STAT",
    "PRESET": "PRES",
    "UPPER": "UPP",
}
_SHORT = {*_LONG_TO_SHORT.values(), "AC", "DC", "READ", "AUTO", "NEXT", "COUN", "ON"} | {"COUNT"}


class SyntaxTrouble(Exception):
    """A command that can't be taken, with its number and text for the error queue."""

    def __init__(self, code: int, text: str) -> None:
        super().__init__(f'{code},"{text}"')
        self.code, self.text = code, text


def split_units(line: str) -> list[str]:
    """The message units of a line: parted by semicolons that don't stand in quotes."""
    units, start, quote = [], 0, ""
    for at, char in enumerate(line):
        if quote:
            quote = "" if char == quote else quote
        elif char in "\"'":
            quote = char
        elif char == ";":
            units.append(line[start:at])
            start = at + 1
    units.append(line[start:])
    return [unit.strip() for unit in units]


def split_words(unit: str) -> tuple[str, list[str]]:
    """Header and parameters of a message unit."""
    header, _, rest = unit.partition(" ")
    parameters = [word.strip() for word in rest.split(",")] if rest.strip() else []
    if any(not word for word in parameters):
        raise SyntaxTrouble(-102, "Syntax error")
    return header, parameters


def short_header(header: str, path: str) -> tuple[str, str]:
    """A header in short form, and the path that the next unit of the line starts from.

    Optional words fall away: SENSe in front, SCALar, NEXT, IMMediate, DC after volts and amps.
    ``path`` is the one of the unit before (empty at the start of a line).
    """
    if header.startswith("*"):
        return header.upper(), path
    query = "?" if header.endswith("?") else ""
    body = header.rstrip("?")
    whole = body[1:] if body.startswith(":") else path + body
    words = [_short(word) for word in whole.upper().split(":")]
    next_path = whole[: whole.rfind(":") + 1]
    return ":".join(_without_optional(words)) + query, next_path


def _short(word: str) -> str:
    short = _LONG_TO_SHORT.get(word, word)
    if short == "COUNT":
        short = "COUN"
    if short not in _SHORT:
        raise SyntaxTrouble(-113, "Undefined header")
    return short


def _without_optional(words: list[str]) -> list[str]:
    kept = words[1:] if words[0] == "SENS" and len(words) > 1 else list(words)
    return [
        word
        for at, word in enumerate(kept)
        if word not in {"SCAL", "NEXT", "IMM", "UPP"}
        and not (word == "DC" and at > 0 and kept[at - 1] in {"VOLT", "CURR"})
    ]


def number(word: str) -> float | None:
    """A numeric parameter; None for AUTO, DEFault, MAXimum, MINimum.

    Raises:
        SyntaxTrouble: it is neither.
    """
    if word.upper() in {"AUTO", "DEF", "DEFAULT", "MAX", "MAXIMUM", "MIN", "MINIMUM"}:
        return None
    try:
        value = float(word)
    except ValueError:
        raise SyntaxTrouble(-104, "Data type error") from None
    if value != value or value in (float("inf"), float("-inf")):
        raise SyntaxTrouble(-104, "Data type error")
    return value
