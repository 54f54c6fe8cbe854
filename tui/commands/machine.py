"""``spinvolt machine``: a machine card by questions, and which alternator it is."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from daq.errors import UsageError
from tui.wrapped import say

if TYPE_CHECKING:
    from daq.cards.machine import MachineCard
    from daq.cards.questions import Question
    from daq.cards.which_alternator import Look

__all__ = ["DESCRIPTION", "HELP", "NAME", "configure", "execute"]

NAME = "machine"
HELP = "make a machine card, or find out which alternator it is"
DESCRIPTION = (
    "`machine new` asks for what is needed, one question at a time, and writes a machine card; a blank answer leaves a "
    "value open. `machine which` finds out which alternator it is from what can be seen and measured."
)


def configure(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    actions = parser.add_subparsers(dest="action", metavar="ACTION", required=True, parser_class=type(parser))
    new = actions.add_parser("new", help="answer questions, get a card", allow_abbrev=False)
    new.add_argument("--to", type=Path, metavar="FILE", help="where the card goes; else among your own cards")
    new.add_argument("--force", action="store_true", help="replace the file that is there")
    actions.add_parser("which", help="which alternator is it?", allow_abbrev=False)


def execute(arguments: argparse.Namespace) -> int:
    """Do what the action says."""
    return _new(arguments) if arguments.action == "new" else _which()


def _new(arguments: argparse.Namespace) -> int:
    from daq.cards.interview import Interview
    from daq.cards.open_points import open_points

    interview = Interview()
    print(
        "The machine's service manual has these values. A blank line leaves a value open, `back` goes back one."
    )
    while (question := interview.question) is not None:
        trouble = interview.answer(_asked(_question_text(question), "no card was written"))
        for sentence in filter(None, (trouble, interview.remark)):
            print(f"  {sentence}")
    card = interview.card()
    path = _write(card, arguments.to, force=arguments.force)
    print(f"Written: {path}")
    for sentence in open_points(card):
        print(f"  {sentence}")
    return 0


def _question_text(question: Question) -> str:
    unit = f" [{question.unit}]" if question.unit else ""
    source = "" if question.kind in {"name", "text"} else ", common practice, no source"
    default = f" (blank: {question.default}{source})" if question.default else ""
    return f"{question.text}{unit}{default}: "


def _asked(text: str, lost: str) -> str:
    """The answer to a question.

    Raises:
        UsageError: the input ended; ``lost`` says what came of it.
    """
    print(text, end="", flush=True)
    line = sys.stdin.readline()
    if not line:
        print()
        raise UsageError(f"The answers ended before all was asked; {lost}.")
    if not sys.stdin.isatty():
        print(line.rstrip("\n"))
    return line


def _write(card: MachineCard, to: Path | None, *, force: bool) -> Path:
    import msgspec

    from daq.catalog import config_folder
    from daq.output import replacing, telling
    from tui.tomltext import toml_text

    path = to or config_folder() / "cards" / f"{card.name}.toml"
    if to is None:
        with telling(path):
            path.parent.mkdir(parents=True, exist_ok=True)
    table = {key: value for key, value in msgspec.to_builtins(card).items() if value not in ((), [])}
    with replacing(path, force=force) as draft:
        draft.write_text(toml_text(table), encoding="utf-8")
    return path


def _which() -> int:
    from daq.cards.which_alternator import which_alternator

    answers: dict[str, str] = {}
    unknown: set[str] = set()
    while (look := which_alternator(answers, unknown).next_look) is not None:
        answer = _looked(look)
        if answer:
            answers[look.key] = answer
        else:
            unknown.add(look.key)
    which = which_alternator(answers, unknown)
    decided = which.decided
    if decided is not None:
        print(f'It is: {decided.words} (alternator = "{decided.value}" in the machine card).')
    elif which.classes:
        print("It can be: " + "; ".join(each.words for each in which.classes) + ".")
    for reason in which.reasons:
        print(f"  - {reason}")
    return 0


def _looked(look: Look) -> str:
    if look.caution:
        say([f"! {look.caution}"])
    while True:
        asked = f"{look.question} [{', '.join(look.answers)}; blank: not known]: "
        answer = _asked(asked, "which alternator it is was not decided").strip().lower()
        if answer in {"?", "don't know", "dont know"}:
            return ""
        if not answer or answer in look.answers:
            return answer
        print(f"  {answer!r} is none of {', '.join(look.answers)}.")
