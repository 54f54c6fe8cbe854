"""The description that travels with an aligned CSV: W3C "CSV on the Web" (CSVW) metadata.

Model and vocabulary: W3C Recommendation "Metadata Vocabulary for Tabular Data"
(17 December 2015). How the rows were made stands in ``notes``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from daq.recording.lines import clean_text

__all__ = ["describe", "known_columns"]

_COLUMNS: dict[str, tuple[str, str, object, str | None]] = {
    "time_s": ("Time", "Time since the session's start", "double", "s"),
    "utc": (
        "UTC",
        "The same moment by the computer's clock, in UTC: it goes forward over a sleep, and jumps where it was set",
        "dateTimeStamp",
        None,
    ),
    "speed_rpm": (
        "Speed",
        "Mean speed over the voltage reading's own window, with the lag between the instruments removed",
        "double",
        "rpm",
    ),
    "voltage_V": ("AC voltage", "AC voltage as the meter gave it", "double", "V"),
    "rated_voltage_V": (
        "AC voltage at rated speed",
        "voltage_V times rated speed over speed_rpm; holds for an unloaded alternator only",
        "double",
        "V",
    ),
    "u_rated_voltage_V": (
        "Standard uncertainty of the AC voltage at rated speed",
        "Standard uncertainty (JCGM 100) of rated_voltage_V, coverage factor 1",
        "double",
        "V",
    ),
    "steady": (
        "Speed was steady",
        "1 where the speed was steady over the reading's window",
        {"base": "boolean", "format": "1|0"},
        None,
    ),
    "in_window": (
        "Speed was near rated speed",
        "1 where the speed lay within the machine card's window around rated speed",
        {"base": "boolean", "format": "1|0"},
        None,
    ),
    "quality": ("Quality", "What is known of the row's worth, in words", "string", None),
}


def known_columns() -> tuple[str, ...]:
    """The columns every aligned CSV has, in their order."""
    return tuple(_COLUMNS)


def describe(csv_name: str, columns: Sequence[str], how_made: Mapping[str, object]) -> bytes:
    """The content of ``OUT.csv-metadata.json``.

    Args:
        csv_name: name of the CSV file, which lies beside it.
        columns: the CSV's header.
        how_made: how the rows were made: program, recording, lag, policy.
    """
    document = {
        "@context": ["http://www.w3.org/ns/csvw", {"@language": "en"}],
        "url": csv_name,
        "dc:title": "Aligned readings of an engine-driven alternator",
        "dialect": {
            "encoding": "utf-8",
            "lineTerminators": ["\r\n"],
            "delimiter": ",",
            "quoteChar": '"',
            "doubleQuote": True,
            "header": True,
            "headerRowCount": 1,
            "skipInitialSpace": False,
            "trim": False,
        },
        "tableSchema": {"columns": [_column(name) for name in columns], "rowTitles": ["time_s"]},
        "notes": [_clean(msgspec.to_builtins(dict(how_made)))],
    }
    return msgspec.json.format(msgspec.json.encode(document), indent=2) + b"\n"


def _column(name: str) -> dict[str, object]:
    title, description, datatype, unit = _COLUMNS.get(name) or _further(name)
    column: dict[str, object] = {
        "name": re.sub(r"[^A-Za-z0-9_]", "_", name),
        "titles": [name, title],
        "dc:description": description,
        "datatype": datatype,
        "null": "",
        "required": name == "time_s",
    }
    if unit is not None:
        column["schema:unitText"] = unit
    return column


def _further(name: str) -> tuple[str, str, object, str | None]:
    """A further channel: ``<quantity>_<unit>``, or with a number behind it for a second one."""
    found = re.fullmatch(r"(.+)_([A-Za-z]+)(?:_(\d+))?", name)
    if found is None:
        return name, "A further channel", "double", None
    quantity, unit, number = found.groups()
    title = quantity.replace("_", " ").capitalize() + (f" ({number})" if number else "")
    return title, "A further channel: its reading nearest in time", "double", unit


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, dict):
        return {clean_text(str(key)): _clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item) for item in value]
    return value
