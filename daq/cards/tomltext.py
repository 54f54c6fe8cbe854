"""TOML from a person's own file or from a stranger's: read within bounds, and every fault told in words.

The standard library's reader recurses with each level of nesting, takes the square of a dotted key's length in
time, and refuses a long whole number with an error of another kind. So the bounds are looked at before it reads.
"""

from __future__ import annotations

import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any

__all__ = ["MOST_BYTES", "MOST_NESTING", "MOST_PARTS", "TomlError", "parse_toml", "read_toml_text"]

MOST_BYTES = 64 * 1024
"""Of a file; the largest built-in card has 1.1 kB."""
MOST_NESTING = 32
"""Brackets within brackets; a card needs four."""
MOST_PARTS = 16
"""Names in one dotted key; a card needs three."""
_MOST_WHOLE = 1 << 63
"""TOML 1.0.0: whole numbers are of 64 bits."""

_QUOTED = re.compile(
    r'"""(?:[^\\]|\\.)*?(?:"""|\\?\Z)'
    r"|'''.*?(?:'''|\Z)"
    r'|"(?:[^"\\\n]|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|\#[^\n]*+",
    re.DOTALL,
)
"""Strings and comments: what is in them neither nests nor makes a key longer. Each takes time by its length.

One without an end, which is no TOML, is taken too: its letters are not looked at again from each of its quotes.
"""
_BLANKS = re.compile(r"[ \t\r]+")
_KEY = re.compile(r"[^\s=,\[\]{}]+")
_BRACKET = re.compile(r"[\[\]{}]")


class TomlError(ValueError):
    """The text is no TOML that can be used.

    str() ends a sentence that begins with the file, such as "is no ordinary file".
    """


def read_toml_text(path: Path) -> str:
    """The text of a TOML file; a byte order mark, as some editors write it, is left out.

    Raises:
        TomlError: it is no ordinary file, larger than :data:`MOST_BYTES`, or not UTF-8.
        OSError: it can't be read.
    """
    with open(path, "rb", opener=_open_at_once) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise TomlError("is no ordinary file")
        data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise TomlError(f"is larger than {MOST_BYTES // 1024} kB")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise TomlError(f"is not UTF-8 text (byte {error.start})") from error


def _open_at_once(path: str, flags: int) -> int:
    """Open without waiting: the opening of a named pipe would last until somebody writes into it."""
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def parse_toml(text: str) -> dict[str, Any]:
    """The table that a TOML text stands for.

    Raises:
        TomlError: it is none, or beyond the bounds.
    """
    if len(text) > MOST_BYTES:
        raise TomlError(f"is larger than {MOST_BYTES // 1024} kB")
    _check_bounds(text)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise TomlError(f"is not valid TOML: {error}") from error
    except (ValueError, RecursionError) as error:
        # Past the bounds there is one cause left: more digits than Python turns into a whole number.
        raise TomlError("holds a number of far too many digits") from error
    _check_numbers(table)
    return table


def _check_bounds(text: str) -> None:
    bare = _BLANKS.sub("", _QUOTED.sub("s", text))
    if any(key[0].count(".") >= MOST_PARTS for key in _KEY.finditer(bare)):
        raise TomlError(f"holds a dotted key of more than {MOST_PARTS} names")
    depth = 0
    for bracket in _BRACKET.finditer(bare):
        depth = depth + 1 if bracket[0] in "[{" else max(0, depth - 1)
        if depth > MOST_NESTING:
            raise TomlError(f"is nested more than {MOST_NESTING} deep")


def _check_numbers(table: dict[str, Any]) -> None:
    """Whole numbers in hexadecimal may have any number of digits, and nothing can print or reckon with them."""
    left: list[object] = [table]
    while left:
        value = left.pop()
        if isinstance(value, dict):
            left += value.values()
        elif isinstance(value, list):
            left += value
        elif isinstance(value, int) and not -_MOST_WHOLE <= value < _MOST_WHOLE:
            raise TomlError("holds a number of far too many digits")
