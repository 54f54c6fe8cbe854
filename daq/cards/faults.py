"""What a card's checker says, in words for the person who wrote the card."""

from __future__ import annotations

import re
import typing
from enum import Enum
from types import UnionType

import msgspec

__all__ = ["card_fault_words"]

_PLACE = re.compile(r"(?P<what>.*?)(?: - at `\$(?P<place>[^`]*)`)?", re.DOTALL)
_MISSING = re.compile(r"Object missing required field `(?P<key>[^`]+)`")
_UNKNOWN = re.compile(r"Object contains unknown field `(?P<key>[^`]+)`")
_TYPE = re.compile(r"Expected `(?P<due>[^`]+)`, got `(?P<got>[^`]+)`")
_VALUE = re.compile(r"Invalid enum value (?P<value>.+)")
_STEP = re.compile(r"\.?([A-Za-z_]\w*)|\[[^\[\]]*+\]")
_KINDS = {
    "float": "a number",
    "int": "a whole number",
    "str": "text in quotes",
    "bool": "true or false",
    "array": "a list in [ ]",
    "object": "a table",
}


def card_fault_words(error: msgspec.ValidationError, kind: type[msgspec.Struct]) -> str:
    """The checker's message as part of a sentence: the key first, then what is wrong, then what is accepted.

    Args:
        error: from msgspec.
        kind: the structure that was checked against.
    """
    found = _PLACE.fullmatch(str(error))
    what, place = (found["what"], found["place"] or "") if found else (str(error), "")
    key = re.sub(r"\[(\d+)\]", lambda m: f" {int(m[1]) + 1}", place.lstrip(".")).replace("[...]", "")
    inside = f"in {key}, " if key else ""
    if missing := _MISSING.fullmatch(what):
        return f"{inside}the key {missing['key']} is missing"
    if unknown := _UNKNOWN.fullmatch(what):
        return f"{inside}there is no key {unknown['key']}{_offer(_keys(_at(kind, place)))}"
    if wrong := _TYPE.fullmatch(what):
        return f"{key or 'it'} must be {_kinds(wrong['due'])}, not {_kinds(wrong['got'])}"
    if value := _VALUE.fullmatch(what):
        return f"{key} can't be {value['value']}{_offer(_values(_at(kind, place)))}"
    return f"{inside}{what}"


def _kinds(names: str) -> str:
    """Kinds of value in words; null is left out, since TOML has no way to write it."""
    words = [_KINDS.get(name.strip(), name.strip()) for name in names.split("|") if name.strip() != "null"]
    return " or ".join(words)


def _offer(accepted: list[str]) -> str:
    return f"; accepted: {', '.join(accepted)}" if accepted else ""


def _at(kind: object, place: str) -> object:
    """The type that stands at a place such as ``.channel[0].quantity``; None where it can't be followed."""
    for step in _STEP.finditer(place):
        members = _members(kind)
        if step[1] is None:
            kind = next(
                (typing.get_args(m)[-1 if typing.get_origin(m) is dict else 0] for m in members), None
            )
        else:
            table = next((m for m in members if _is_struct(m)), None)
            kind = None if table is None else typing.get_type_hints(table).get(step[1])
    return kind


def _members(kind: object) -> list[typing.Any]:
    """The type itself, or the members of a union, None left out."""
    if typing.get_origin(kind) in (typing.Union, UnionType):
        return [m for m in typing.get_args(kind) if m is not type(None)]
    return [] if kind is None else [kind]


def _is_struct(kind: object) -> bool:
    return isinstance(kind, type) and issubclass(kind, msgspec.Struct)


def _keys(kind: object) -> list[str]:
    return [key for m in _members(kind) if _is_struct(m) for key in m.__struct_encode_fields__]


def _values(kind: object) -> list[str]:
    values: list[str] = []
    for member in _members(kind):
        if typing.get_origin(member) is typing.Literal:
            values += [str(value) for value in typing.get_args(member)]
        elif isinstance(member, type) and issubclass(member, Enum):
            values += [str(each.value) for each in member]
    return values
