"""What a JSON or TOML text holds, with the characters that no screen may get written as escapes; both know them."""

from __future__ import annotations

__all__ = ["json_escapes", "toml_escapes"]


def json_escapes(text: str) -> str:
    """A JSON text with line ends between its values, all else in it printable; it means the same."""
    return "".join(c if c == "\n" or c.isprintable() else _utf16(c) for c in text)


def toml_escapes(quoted: str) -> str:
    """A TOML basic string, printable; it means the same."""
    return "".join(c if c.isprintable() else _one(ord(c)) for c in quoted)


def _utf16(character: str) -> str:
    units = character.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[at : at + 2].hex()}" for at in range(0, len(units), 2))


def _one(code: int) -> str:
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
