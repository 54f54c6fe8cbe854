"""Whether there is a terminal to draw on."""

from __future__ import annotations

import os
import sys

__all__ = ["BROWSER_VARIABLE", "has_terminal", "keys_come_from_terminal"]

BROWSER_VARIABLE = "TEXTUAL_DRIVER"
"""Environment variable of Textual's: a driver is named where the screen is not a terminal's."""


def has_terminal() -> bool:
    """Keys come in and pictures go out: all three standard streams are a terminal, or the page of a browser."""
    if os.environ.get(BROWSER_VARIABLE):
        return True
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr))


def keys_come_from_terminal() -> bool:
    """Whether keys come from a terminal that is still there: one that was closed is none any more."""
    return sys.__stdin__ is not None and not sys.__stdin__.closed and sys.__stdin__.isatty()
