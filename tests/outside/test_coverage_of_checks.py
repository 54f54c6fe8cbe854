"""No published check of the list is forgotten: each has a test that names it, or a reason why it has none."""

from __future__ import annotations

import importlib
import inspect
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import ModuleType

import pytest

from tests.outside.published import HELD_ELSEWHERE, LEFT_OUT, NOBODY_USES, ORIGINS

HERE = Path(__file__)
NUMBERED = {
    "G": 14, "E": 6, "J": 7, "N": 5, "S": 5, "V": 8, "F": 7, "R": 7, "B": 7, "C": 4, "W": 22, "L": 6, "T": 7, "P": 1,
}  # fmt: skip
"""The list, by section: uncertainty, a meter's reading, limits, regression, speed, proportion, waves, winding,
battery, cautions, wire formats, lag, files, and the trade's fact. Data in packages are not numbered throughout."""
DATA = ("D1", "D2", "D7", "D8")


def modules() -> Iterator[ModuleType]:
    for path in sorted(HERE.parent.glob("test_*.py")):
        if path != HERE:
            yield importlib.import_module(f"tests.outside.{path.stem}")


@cache
def held_here() -> Counter[str]:
    found: Counter[str] = Counter()
    for module in modules():
        for name, attribute in vars(module).items():
            origins = getattr(attribute, "origins", ())
            assert not origins or name.startswith("test_"), f"{module.__name__}.{name} is run by nobody"
            found.update(origin.check for origin in origins)
    return found


def mentions(source: str) -> set[str]:
    """Checks that a source names, those inside "W14 to W16" among them."""
    named = set(re.findall(r"\b[A-Z]\d+\b", source))
    for letter, first, last in re.findall(r"\b([A-Z])(\d+) to [A-Z](\d+)\b", source):
        named |= {f"{letter}{i}" for i in range(int(first), int(last) + 1)}
    return named


def test_the_list_is_whole() -> None:
    numbered = {f"{letter}{i}" for letter, count in NUMBERED.items() for i in range(1, count + 1)}
    assert set(ORIGINS) == numbered | set(DATA)


@pytest.mark.parametrize("check", ORIGINS)
def test_each_check_has_a_test_or_a_reason(check: str) -> None:
    held = check in held_here() or check in HELD_ELSEWHERE
    assert held != (check in LEFT_OUT)


@pytest.mark.parametrize("check", HELD_ELSEWHERE)
def test_a_test_beside_the_code_exists_and_its_file_names_the_check(check: str) -> None:
    place, name = HELD_ELSEWHERE[check]
    module = importlib.import_module(place)
    assert callable(getattr(module, name))
    assert check in mentions(inspect.getsource(module))


@pytest.mark.parametrize("check", NOBODY_USES)
def test_what_nobody_uses_is_used_by_nobody(check: str) -> None:
    """Once something calls it, take it off :data:`NOBODY_USES`: the check then holds the program."""
    place, name = NOBODY_USES[check].rsplit(".", 1)
    own = Path(inspect.getfile(importlib.import_module(place)))
    assert callable(getattr(importlib.import_module(place), name))
    assert check in held_here()
    root = HERE.parents[2]
    users = [
        str(path.relative_to(root))
        for package in ("daq", "drivers", "tui")
        for path in (root / package).rglob("*.py")
        if path != own and re.search(rf"\b{name}\b", path.read_text(encoding="utf-8"))
    ]
    assert users == []


def test_what_is_left_out_is_on_the_list_and_says_why() -> None:
    assert set(LEFT_OUT) <= set(ORIGINS)
    assert all(len(reason.split()) > 8 for reason in LEFT_OUT.values())


def test_a_trade_fact_is_never_given_a_source() -> None:
    assert [check for check, origin in ORIGINS.items() if origin.status == "COMMON"] == ["P1"]
