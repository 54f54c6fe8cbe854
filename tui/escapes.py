"""What JSON, TOML and paths hold, with the characters that no screen may get written as escapes or left out."""

from __future__ import annotations

from tui.text import clean

__all__ = ["json_escapes", "shown_path", "toml_escapes"]

_LONGEST_PATH = 4096


def json_escapes(text: str) -> str:
    """A JSON text with line ends between its values, all else in it printable; it means the same."""
    return "".join(c if c == "\n" or c.isprintable() else _utf16(c) for c in text)


def toml_escapes(quoted: str) -> str:
    """A TOML basic string, printable; it means the same."""
    return "".join(c if c.isprintable() else _one(ord(c)) for c in quoted)


def shown_path(path: object) -> str:
    """A path as it stands; one whose name would drive the terminal, with that taken out."""
    text = str(path)
    return text if text.isprintable() else clean(text, _LONGEST_PATH)


def _utf16(character: str) -> str:
    units = character.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


def _one(code: int) -> str:
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
