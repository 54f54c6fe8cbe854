"""The process behind one open page: ``python -m tui.serve.session watch FILE``; its screen goes to the server.

Standard output belongs to the driver's packets, so that nothing else is printed there.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

__all__ = ["main", "session_command"]


def session_command(*arguments: str) -> list[str]:
    """The command that starts a session; ``arguments`` as for ``spinvolt``."""
    return [sys.executable, "-P", "-m", "tui.serve.session", *arguments]


def main(arguments: Sequence[str]) -> int:
    """Run a command of ``spinvolt`` with nothing printed; gives its exit status."""
    from tui.__main__ import main as spinvolt

    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        sys.stdout = nowhere
        try:
            return spinvolt(arguments)
        finally:
            sys.stdout = sys.__stdout__


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
