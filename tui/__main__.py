"""The program's start: arguments in, an exit status out, and the last border for what goes wrong."""

from __future__ import annotations

import contextlib
import os
import sys
import warnings
from collections.abc import Sequence

from daq.errors import SpinvoltError, UsageError
from tui.cli import build_parser
from tui.terminal import has_terminal
from tui.text import clean

__all__ = ["main"]

_SENTENCE_LIMIT = 2000


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Args:
        argv: the arguments; those of the process when None.

    Returns:
        0 when it is done, 2 for wrong usage, 1 for anything else; then one
        sentence stands on standard error.
    """
    _tolerate_narrow_encodings()
    words = sys.argv[1:] if argv is None else argv
    if argv is None:
        # Before numpy is there: its sums on a second core gain nothing here, and make the capture's stamps late.
        os.environ.setdefault("OMP_NUM_THREADS", "1")
    if argv is None and not sys.warnoptions:
        # Of use to who writes the program: the tests, which call this with arguments, take each for an error.
        warnings.simplefilter("ignore")
    parser = build_parser(words)
    arguments = parser.parse_args(words)
    if arguments.version:
        return _print_version()
    if arguments.command is None and not has_terminal():
        parser.error("a command is missing: `spinvolt demo` shows the program at work")
    try:
        status: int = _start_screen() if arguments.command is None else arguments.command(arguments)
        sys.stdout.flush()
        return status
    except SpinvoltError as error:
        return _say(str(error), 2 if isinstance(error, UsageError) else 1)
    except KeyboardInterrupt:
        return _say("Stopped before it was done.", 1)
    except BrokenPipeError:
        _let_go_of_output()
        return 0
    except Exception as error:  # noqa: BLE001 - the last border: a sentence and a log, never a traceback
        return _say(_unexpected(error), 1)


def _start_screen() -> int:
    """`spinvolt` alone in a terminal: what was recorded, and the ways from there."""
    from tui.commands.recordings import open_screen
    from tui.places import recordings_folder

    return open_screen(recordings_folder(), plain=False)


def _say(sentence: str, status: int) -> int:
    from tui.wrapped import say

    say([clean(sentence, _SENTENCE_LIMIT)], sys.stderr)
    # CPython ends by SIGINT, whatever is returned, where that met the making of a dataclass, which is a text
    # that it executes; it forgets so with the next text. Without this a Control-C has one status or another.
    exec("")
    return status


def _unexpected(error: Exception) -> str:
    from tui.errorlog import write_error_log

    where = write_error_log(error)
    what = f"spinvolt met a fault of its own ({type(error).__name__}: {error})"
    return f"{what}; the details are in {where}." if where else f"{what}."


def _print_version() -> int:
    from importlib.metadata import version

    print(f"spinvolt {version('spinvolt')}")
    return 0


def _tolerate_narrow_encodings() -> None:
    """A terminal without "±" gets a "?" there, not an error."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")


def _let_go_of_output() -> None:
    """Whoever read the output has gone; nothing more can be said there, also not at the exit."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


if __name__ == "__main__":
    sys.exit(main())
