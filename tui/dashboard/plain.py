"""Plain ASCII in place of the signs that some terminals lack."""

from __future__ import annotations

__all__ = ["plain_text"]

_TABLE = str.maketrans(
    {
        "✓": "+",
        "✗": "x",
        "≈": "~",
        "–": "-",
        "…": "...",
        "±": "+/-",
        "≥": ">=",
        "●": "*",
        "○": "o",
        "◌": "?",
        "▶": ">",
        "◀": "<",
        "·": "-",
        "█": "#",
        "▲": "^",
        "─": "-",
        "│": "|",
        "┼": "+",
        "├": "|",
        "┤": "|",
        "└": "+",
        "▒": ":",
        "°": "deg",
        "←": "<",
        "→": ">",
        "Ω": "ohm",
        "↑": "^",
        "↓": "v",
        "▼": "v",
        "\u00a0": " ",
    }
)


def plain_text(text: str) -> str:
    """The text with our own signs in ASCII; letters of other languages stay as they are."""
    return text.translate(_TABLE)
