"""The dialog of ``spinvolt machine new``: a question at a time, answers in, a machine card out."""

from __future__ import annotations

import copy
from typing import Any

import msgspec

from daq.cards.machine import MachineCard
from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import COMMON_PRACTICE
from daq.cards.questions import LOAD_QUESTIONS, QUESTIONS, Question, parse_answer

__all__ = ["Interview"]

_TYPED = "typed in, as the service manual, the label or a measurement gave it"
_NOT_KNOWN = frozenset({"", "?", "-", "don't know", "dont know", "do not know", "not known", "unknown"})
_BACK = frozenset({"back", "<"})


class Interview:
    """Holds the answers so far. Nothing is read or printed here.

    Attributes:
        remark: what is to be told of the newest answer though it was taken; "" for nothing.
    """

    def __init__(self) -> None:
        self.remark = ""
        self._before: list[tuple[dict[str, Any], int, dict[str, Any], bool]] = []
        self._table: dict[str, Any] = {"sources": {}}
        self._at = 0
        self._load: dict[str, Any] = {}
        self._loads_done = False

    @property
    def question(self) -> Question | None:
        """What to ask now; None when all is asked."""
        while self._at < len(QUESTIONS) and not self._asked(QUESTIONS[self._at]):
            self._at += 1
        if self._at < len(QUESTIONS):
            return QUESTIONS[self._at]
        return None if self._loads_done else LOAD_QUESTIONS[len(self._load)]

    def answer(self, text: str) -> str:
        """Take the answer to :attr:`question`.

        Args:
            text: as typed. Blank, "?" or "don't know" leaves the value open or takes the question's default;
                "back" or "<" goes back to the question before.

        Returns:
            A sentence that says why it can't be taken, and then the same question stands; else "".
        """
        question = self.question
        if question is None:
            raise ValueError("all is asked")
        self.remark = ""
        text = text.strip()
        if text.lower() in _BACK:
            return self._go_back()
        now = (self._table, self._at, self._load, self._loads_done)
        try:
            self._take(question, "" if text.lower() in _NOT_KNOWN else text)
            self._before.append(now)
        except msgspec.ValidationError as error:
            return f"{str(error).split(' - at ')[0]}."
        except ValueError as error:
            return str(error)
        return ""

    def _go_back(self) -> str:
        if not self._before:
            return "This is the first question."
        self._table, self._at, self._load, self._loads_done = self._before.pop()
        return ""

    def card(self) -> MachineCard:
        """The card. The answers have been checked one by one."""
        return _checked(self._table)

    def _asked(self, question: Question) -> bool:
        known = self._table.get("alternator")
        if question.classes is None or known is None:
            return True
        return AlternatorClass(known) in question.classes

    def _take(self, question: Question, text: str) -> None:
        if self._at >= len(QUESTIONS):
            self._take_load(question, text)
            return
        table = copy.deepcopy(self._table)
        if text or question.default:
            value = parse_answer(question, text or question.default)
            _put(table, question.key, value)
            if question.key not in {"name", "title"}:
                table["sources"][question.key.partition(".")[0]] = _TYPED if text else COMMON_PRACTICE
        _checked(table)
        self._table = table
        self._at += 1

    def _take_load(self, question: Question, text: str) -> None:
        if question.key == "name" and not text:
            self._loads_done = True
            return
        if not text and not question.default:
            self.remark = (
                f"{self._load['name']} is left out: without its amps it can't be reckoned with; its label, or a meter "
                "in series, gives them."
            )
            self._load = {}
            return
        load = {**self._load, question.key: parse_answer(question, text or question.default)}
        table = copy.deepcopy(self._table)
        table.setdefault("load", []).append({"current_a": 0.0, **load})
        table["sources"]["load"] = _TYPED
        _checked(table)
        if len(load) == len(LOAD_QUESTIONS):
            self._table, load = table, {}
        self._load = load


def _put(table: dict[str, Any], key: str, value: object) -> None:
    head, _, tail = key.partition(".")
    if tail:
        table.setdefault(head, {})[tail] = value
    else:
        table[head] = value


def _checked(table: dict[str, Any]) -> MachineCard:
    """The card of a table of which the end may still be missing."""
    return msgspec.convert(
        {"name": "card", "title": "machine", "rated_speed_rpm": 3600, **table}, MachineCard
    )
