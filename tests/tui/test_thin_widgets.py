"""The house rule of widgets and screens: what a value is worth is worked out before it comes to them.

Rows, columns and places in a list are counted there, and nothing else. That a name carries its unit
(a rule of its own) is what tells a value from a count: nothing with a unit is added, scaled or compared
for the larger, save a screen's own pauses.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import tui.dashboard.widgets

WIDGETS = sorted(Path(tui.dashboard.widgets.__file__).parent.glob("*.py"))
SCREENS = sorted(Path(tui.dashboard.__file__).parent.glob("*_screen.py"))
WORKING_OUT = (ast.Div, ast.Pow, ast.MatMult)
COUNTING = (ast.Add, ast.Sub, ast.Mult, ast.FloorDiv, ast.Mod)
MATHS = {"numpy", "statistics", "cmath"}
CALLS = {"sum", "min", "max", "abs", "divmod"}
VALUE = re.compile(
    r"(?:^|_)(?:[sVvA]|mv|ms|ns|us|hz|rpm|dbm|percent|volts?|amps?|value|values|expanded|uncertainty|share|parts|low|high)$",
    re.IGNORECASE,
)
PAUSES = {"now_s", "since_s", "_plotted_s"}
"""Times of a screen's own loop: how often it draws and how long it waits."""


def reckoning(source: str) -> list[str]:
    """What a module works out."""
    found = []
    for node in ast.walk(ast.parse(source)):
        found += [f"line {getattr(node, 'lineno', 0)}: {each}" for each in _worked_out(node)]
    return found


def _worked_out(node: ast.AST) -> Iterator[str]:
    if isinstance(node, ast.Import):
        yield from (alias.name for alias in node.names if alias.name in MATHS)
    elif isinstance(node, ast.ImportFrom) and node.module in MATHS:
        yield node.module or ""
    elif isinstance(node, ast.Call) and ast.unparse(node.func) in {"round", "float", "math.fsum"}:
        yield ast.unparse(node)
    elif isinstance(node, ast.Call) and ast.unparse(node.func) in CALLS and _values(*node.args):
        yield ast.unparse(node)
    elif isinstance(node, ast.BinOp | ast.AugAssign):
        sides = (node.left, node.right) if isinstance(node, ast.BinOp) else (node.target, node.value)
        if isinstance(node.op, WORKING_OUT) or (isinstance(node.op, COUNTING) and _values(*sides)):
            yield ast.unparse(node)
    elif isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value in {100.0, 1000.0}:
        yield f"the factor {node.value}"


def _values(*sides: ast.AST) -> list[str]:
    """The names of what has a unit among the operands; what a function gives back answers for itself."""
    names: list[str] = []
    for side in sides:
        if isinstance(side, ast.Call) and ast.unparse(side.func) == "len":
            continue
        if isinstance(side, ast.Name):
            names.append(side.id)
        elif isinstance(side, ast.Attribute):
            names.append(side.attr)
        elif not isinstance(side, ast.Constant | ast.JoinedStr | ast.List):
            names += _values(*ast.iter_child_nodes(side))
    return [name for name in names if VALUE.search(name) and name not in PAUSES]


@pytest.mark.parametrize("path", [*WIDGETS, *SCREENS], ids=lambda path: path.stem)
def test_a_widget_or_screen_works_out_nothing(path: Path) -> None:
    assert reckoning(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "line",
    [
        "from numpy import mean",
        "x = a / 2",
        "y = round(z)",
        "done = 50 * sum(self._parts)",
        "span_s = 2 * SPAN_S",
        "left = view.speed_rpm - view.rated_speed_rpm",
        "w = max(result.rated_voltage_V, limit_V)",
        "total_s += step_s",
        "x = value * 3 // 4",
        "e = min(abs(expanded), 3)",
    ],
)
def test_what_is_found(line: str) -> None:
    assert len(reckoning(line)) >= 1


@pytest.mark.parametrize(
    "line",
    [
        "room = max(width - len(self._left) - 2, 0)",
        "top = min(self.top + by, len(rows) - height)",
        "text = ' ' * (columns - at)",
        "waited = now_s - self._plotted_s",
        "self._runs += 1",
    ],
)
def test_what_is_counting(line: str) -> None:
    assert reckoning(line) == []
