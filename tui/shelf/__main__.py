"""The process that works results out: paths come in on standard input, a line of JSON each goes out.

It ends when its input ends, which is also what it sees when its dashboard
goes away; and it stands back behind whatever else the computer does.
"""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path

import msgspec

from tui.shelf.cache import ResultCache, cache_folder
from tui.shelf.messages import Part

__all__ = ["main"]

_NICE = 10


def main() -> int:
    """Answer until the input ends."""
    if hasattr(os, "nice"):
        with contextlib.suppress(OSError):
            os.nice(_NICE)
    cache = ResultCache(cache_folder())
    for line in sys.stdin.buffer:
        path = msgspec.json.decode(line, type=str)

        def told(part: float, path: str = path) -> None:
            _say(Part(path=path, part=part))

        _say(cache.summary(Path(path), told))
    return 0


def _say(message: msgspec.Struct) -> None:
    sys.stdout.buffer.write(msgspec.json.encode(message) + b"\n")
    sys.stdout.buffer.flush()


if __name__ == "__main__":
    with contextlib.suppress(BrokenPipeError, KeyboardInterrupt):
        sys.exit(main())
