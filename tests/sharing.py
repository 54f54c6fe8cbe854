"""Which test modules may run beside each other in two processes (``pytest -n 2``).

A terminal's name (``/dev/pts/7``) is given to whoever comes next once it is free. A capture that waits for its
instrument to return would so find the terminal of somebody else's test. So all modules that open terminals, or start
what does, are one group and run in one process, one after another; every other module is a group of its own.
One that uses such helpers and yet opens none says so by a line ``OPENS_NO_TERMINAL = True``.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

__all__ = ["TERMINALS", "group_of"]

TERMINALS = "terminals"
_ROOT = Path(__file__).resolve().parent.parent
_OPENS_TERMINALS = re.compile(
    r"\bpty\b|\btmux\b|\bPtyPeer\b|\bCaptureProcess\b|\bLiveSession\b|tests\.tui\.program|ttyname|\bBenchProcess\b"
    r'|\bbegin_run\b|(?<!=)"demo"|"drivers\.bench"'  # not source="demo", which a recording's first line says
)
_OPENS_NONE = re.compile(r"^OPENS_NO_TERMINAL = True$", re.MULTILINE)
_IMPORT = re.compile(r"^\s*(?:from|import) (tests(?:\.\w+)+)", re.MULTILINE)


def group_of(module: Path) -> str:
    """The group of a test module, by what it or the helpers that it imports speak of."""
    none = _OPENS_NONE.search(module.read_text(encoding="utf-8")) is not None
    return str(module) if none or not _opens_terminals(module) else TERMINALS


@cache
def _opens_terminals(module: Path) -> bool:
    text = module.read_text(encoding="utf-8")
    if _OPENS_TERMINALS.search(text):
        return True
    helpers = (_ROOT / f"{name.replace('.', '/')}.py" for name in _IMPORT.findall(text))
    return any(_opens_terminals(helper) for helper in helpers if helper.exists() and helper != module)
