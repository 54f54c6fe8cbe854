"""Cards as TOML text, to read and to take as the start of a card of one's own."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

from tui.escapes import toml_escapes

__all__ = ["toml_text"]


def toml_text(table: Mapping[str, Any]) -> str:
    """Write a table as TOML (v1.0.0); values that are None are left out.

    Args:
        table: strings, numbers, booleans, lists, tables, and lists of tables.
    """
    return "\n".join(_table(table, ())).strip() + "\n"


def _table(table: Mapping[str, Any], path: tuple[str, ...]) -> list[str]:
    lines = [f"{_key(key)} = {_value(value)}" for key, value in table.items() if _is_plain(value)]
    for key, value in table.items():
        inner = (*path, key)
        name = ".".join(_key(part) for part in inner)
        if isinstance(value, Mapping):
            body = _table(value, inner)
            lines += ["", f"[{name}]", *body] if body else []
        elif _is_tables(value):
            for each in value:
                lines += ["", f"[[{name}]]", *_table(each, inner)]
    return lines


def _is_tables(value: object) -> bool:
    return isinstance(value, list | tuple) and bool(value) and all(isinstance(v, Mapping) for v in value)


def _is_plain(value: object) -> bool:
    return value is not None and not isinstance(value, Mapping) and not _is_tables(value)


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("_", "a").replace("-", "a").isalnum()
    return key if bare else _string(key)


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return repr(value) if math.isfinite(value) else str(value)
    if isinstance(value, int):
        return str(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(each) for each in value)}]"
    text = str(value)
    return _lines(text) if "\n" in text.strip() and _fits_lines(text) else _string(text)


def _fits_lines(text: str) -> bool:
    """Whether a text can stand as it is between three quotation marks."""
    return '"""' not in text and not text.endswith('"') and all(c == "\n" or c.isprintable() for c in text)


def _lines(text: str) -> str:
    """A text of several lines as one reads it; the first line end, right behind the marks, does not count."""
    return '"""\n' + text.replace("\\", "\\\\") + '"""'


def _string(text: str) -> str:
    """A JSON string is a TOML basic string, but for what is escaped in it beside."""
    return toml_escapes(json.dumps(text, ensure_ascii=False))
