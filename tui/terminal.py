"""Whether there is a terminal to draw on."""

from __future__ import annotations

import sys

__all__ = ["has_terminal"]


def has_terminal() -> bool:
    """All three standard streams are a terminal: keys come in and pictures go out."""
    return all(stream is not None and stream.isatty() for stream in (sys.stdin, sys.stdout, sys.stderr))
