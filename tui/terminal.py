"""Whether there is a terminal to draw on, and what it can draw."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping

__all__ = ["BROWSER_VARIABLE", "draws_plain_only", "has_terminal", "keys_come_from_terminal"]

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


def draws_plain_only(environment: Mapping[str, str] | None = None) -> bool:
    """Whether the terminal says that blocks and braille are beyond it: TERM is "dumb", or its text isn't UTF-8.

    Of the locale's variables the first one that is set counts (POSIX.1-2017, 8.2); where none is, nothing is
    said. A page in a browser is no terminal.

    Args:
        environment: the variables; None: this program's.
    """
    given = os.environ if environment is None else environment
    if given.get(BROWSER_VARIABLE):
        return False
    if given.get("TERM") == "dumb":
        return True
    locale = next((given[name] for name in _locale_variables(given) if given.get(name)), "")
    return bool(locale) and "utf8" not in locale.lower().replace("-", "")


def _locale_variables(given: Mapping[str, str]) -> tuple[str, ...]:
    """In the order in which they count; LC_CTYPE may be the interpreter's own answer to LANG=C (PEP 538)."""
    coerced = given.get("LANG") in {"C", "POSIX"} and given.get("LC_CTYPE") in {"C.UTF-8", "C.utf8", "UTF-8"}
    return ("LC_ALL", "LANG") if coerced else ("LC_ALL", "LC_CTYPE", "LANG")
