"""Names of recordings that the program counts on from a name that is taken."""

from __future__ import annotations

import re
from pathlib import Path

__all__ = ["MOST_TRIES", "next_name"]

MOST_TRIES = 1000
_NUMBERED = re.compile(r"(.*)-([2-9]|[1-9]\d{1,3})")


def next_name(path: Path) -> Path:
    """The name after this one: "run.jsonl", "run-2.jsonl", "run-3.jsonl"."""
    numbered = _NUMBERED.fullmatch(path.stem)
    stem, number = (path.stem, 1) if numbered is None else (numbered[1], int(numbered[2]))
    return path.with_name(f"{stem}-{number + 1}{path.suffix}")
