"""The command line: its commands and options. What a command needs is imported when it runs."""

from __future__ import annotations

import argparse
from typing import NoReturn

from tui.commands import (
    bench,
    cards,
    compare,
    demo,
    export,
    import_,
    job,
    machine,
    ports,
    recordings,
    replay,
    report,
    result,
    run,
    watch,
)

__all__ = ["Parser", "build_parser"]

_COMMANDS = (
    demo,
    bench,
    run,
    watch,
    replay,
    recordings,
    import_,
    export,
    result,
    compare,
    report,
    job,
    machine,
    ports,
    cards,
)


class Parser(argparse.ArgumentParser):
    """Says what is wrong in one sentence on standard error, with status 2."""

    def error(self, message: str) -> NoReturn:
        """End the program; ``message`` is argparse's."""
        sentence = message[:1].upper() + message[1:].rstrip(".")
        self.exit(2, f"{sentence}; `{self.prog} --help` tells how it is used.\n")


def build_parser() -> Parser:
    """The whole command line; parsed arguments carry the command's function as ``command``."""
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
    for module in _COMMANDS:
        one = commands.add_parser(
            module.NAME, help=module.HELP, description=module.DESCRIPTION, allow_abbrev=False
        )
        module.configure(one)
        one.set_defaults(command=module.execute)
    return parser
