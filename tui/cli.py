"""The command line: its commands and options. What a command needs is imported when it runs."""

from __future__ import annotations

import argparse
import sys
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from tui.filename import file_path
from tui.text import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from _typeshed import SupportsWrite

__all__ = ["Parser", "build_parser"]

_LONGEST = 1000
_COMMANDS = {
    module.rstrip("_"): f"tui.commands.{module}"
    for module in (
        "demo",
        "bench",
        "run",
        "watch",
        "replay",
        "recordings",
        "import_",
        "export",
        "result",
        "compare",
        "report",
        "job",
        "machine",
        "ports",
        "cards",
    )
}
"""The module of each command, in the order in which they are listed."""


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence on standard error, with status 2.

    What is declared as a ``Path`` is the name of a file.
    """

    def __init__(self, *arguments: Any, **options: Any) -> None:
        """As argparse's."""
        super().__init__(*arguments, **options)
        self.register("type", Path, file_path)

    def error(self, message: str) -> NoReturn:
        """End the program; ``message`` is argparse's."""
        message = clean(message, _LONGEST)
        sentence = message[:1].upper() + message[1:].rstrip(".")
        self.exit(2, f"{sentence}; `{self.prog} --help` tells how it is used.\n")

    def _print_message(self, message: str, file: SupportsWrite[str] | None = None) -> None:
        """As argparse's, which keeps it to itself where the message can't be written.

        Raises:
            OSError: it can't.
        """
        stream = sys.stderr if file is None else file
        if message and stream is not None:
            stream.write(message)
            flush = getattr(stream, "flush", None)
            if flush is not None:
                flush()


def build_parser(words: Sequence[str] | None = None) -> Parser:
    """The command line; parsed arguments carry the command's function as ``command``.

    Args:
        words: what is going to be parsed. Where it names a command first, that one alone is imported and
            known, so that a program that only starts a screen starts sooner; where it is empty, none is.
            None: all are.
    """
    parser = Parser(
        prog="spinvolt",
        description="Reads a multimeter and a tachometer while an engine runs and states what the "
        "alternator puts out at its rated test speed, with its uncertainty and a verdict.",
        epilog="Try it without any instrument: spinvolt demo",
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="store_true", help="print the version and end")
    parser.set_defaults(command=None)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", parser_class=Parser)
    for name in _needed(words):
        module = import_module(_COMMANDS[name])
        one = commands.add_parser(
            module.NAME, help=module.HELP, description=module.DESCRIPTION, allow_abbrev=False
        )
        module.configure(one)
        one.set_defaults(command=module.execute)
    return parser


def _needed(words: Sequence[str] | None) -> Sequence[str]:
    if words is not None and not words:
        return ()
    return words[:1] if words and words[0] in _COMMANDS else tuple(_COMMANDS)
