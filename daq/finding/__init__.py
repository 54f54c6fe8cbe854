"""Finding instruments: what is in reach, and which card understands what a port sends.

Looking and listening run in a process of their own, because drivers are
plugins that may hang or fail in any way, and because a screen must load none
of them. What is here only starts that process and takes its answers.
"""

from __future__ import annotations

from daq.driver_api import FoundInstrument
from daq.finding.entries import (
    DEFAULT_LISTEN_S,
    DEFAULT_LOOK_S,
    Example,
    Found,
    Heard,
    Listened,
    Live,
    Tried,
    line_words,
)
from daq.finding.process import find, listen, read_on

__all__ = [
    "DEFAULT_LISTEN_S",
    "DEFAULT_LOOK_S",
    "Example",
    "Found",
    "FoundInstrument",
    "Heard",
    "Listened",
    "Live",
    "Tried",
    "find",
    "line_words",
    "listen",
    "read_on",
]
