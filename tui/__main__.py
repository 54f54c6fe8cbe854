"""The program's start: arguments in, an exit status out, and the last border for what goes wrong."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

TYPE_CHECKING = False  # what is imported here is met by a Ctrl-C before anything can be said about it
if TYPE_CHECKING:
    from tui.interrupts import Interruptions

__all__ = ["main"]

_SENTENCE_LIMIT = 2000
_STOPPED = "Stopped before it was done."


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command.

    Args:
        argv: the arguments; those of the process when None, which is then the program's own: it takes the
            signals that end it.

    Returns:
        0 when it is done, 2 for wrong usage, 1 for anything else; then one
        sentence stands on standard error.
    """
    interruptions: Interruptions | None = None
    try:
        if argv is None:
            from tui.interrupts import Interruptions

            interruptions = Interruptions()
            _prepare_process()
        status = _run(sys.argv[1:] if argv is None else argv, interruptions)
        if interruptions is not None:
            interruptions.settle()
    except KeyboardInterrupt as error:
        if interruptions is not None:
            interruptions.settle()
        status = _say(str(error) or _STOPPED, 1)
        if interruptions is not None and interruptions.work_goes_on():
            os._exit(status)  # all is cleared away and said; what another thread works out is for nobody
    return status


def _prepare_process() -> None:
    import warnings

    from tui.lostoutput import make_streams_usable

    make_streams_usable()
    # Before numpy is there: its sums on a second core gain nothing here, and make the capture's stamps late.
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    if not sys.warnoptions:
        # Of use to who writes the program: the tests, which call this with arguments, take each for an error.
        warnings.simplefilter("ignore")


def _run(words: Sequence[str], interruptions: Interruptions | None) -> int:
    """Run a command, and say what goes wrong.

    Raises:
        KeyboardInterrupt: it was interrupted.
    """
    from daq.errors import SpinvoltError, UsageError

    try:
        status = _command(words)
        sys.stdout.flush()
        return status
    except SpinvoltError as error:
        return _say(str(error), 2 if isinstance(error, UsageError) else 1)
    except OSError as error:
        return _without_output(error)
    except Exception as error:  # noqa: BLE001 - the last border: a sentence and a log, never a traceback
        if interruptions is not None and interruptions.asked:
            raise KeyboardInterrupt from error
        return _say(_unexpected(error), 1)


def _command(words: Sequence[str]) -> int:
    from tui.cli import build_parser
    from tui.terminal import has_terminal

    parser = build_parser(words)
    arguments = parser.parse_args(words)
    if arguments.version:
        return _print_version()
    if arguments.command is None and not has_terminal():
        parser.error("a command is missing: `spinvolt demo` shows the program at work")
    status: int = _start_screen() if arguments.command is None else arguments.command(arguments)
    return status


def _start_screen() -> int:
    """`spinvolt` alone in a terminal: what was recorded, and the ways from there."""
    from tui.commands.recordings import open_screen
    from tui.places import recordings_folder

    return open_screen(recordings_folder(), plain=False)


def _say(sentence: str, status: int) -> int:
    from tui.lostoutput import let_go
    from tui.text import clean
    from tui.wrapped import say

    try:
        sys.stdout.flush()
    except (OSError, ValueError):  # what is told first is what went wrong first
        let_go(sys.stdout)
    try:
        say([clean(sentence, _SENTENCE_LIMIT)], sys.stderr)
        sys.stderr.flush()
    except OSError:  # nobody can be told
        let_go(sys.stderr)
    # CPython ends by SIGINT, whatever is returned, where that met the making of a dataclass, which is a text
    # that it executes; it forgets so with the next text. Without this a Control-C has one status or another.
    exec("")
    return status


def _without_output(error: OSError) -> int:
    """Standard output takes nothing any more; who reads only its beginning and goes is not told so."""
    from tui.lostoutput import is_of_output, let_go, what_was_lost

    if isinstance(error, BrokenPipeError):
        let_go(sys.stdout)
        return 0
    if not is_of_output(error):
        return _say(_unexpected(error), 1)
    let_go(sys.stdout)
    return _say(what_was_lost(error), 1)


def _unexpected(error: Exception) -> str:
    from tui.errorlog import write_error_log

    where = write_error_log(error)
    what = f"spinvolt met a fault of its own ({type(error).__name__}: {error})"
    return f"{what}; the details are in {where}." if where else f"{what}."


def _print_version() -> int:
    from importlib.metadata import version

    print(f"spinvolt {version('spinvolt')}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
