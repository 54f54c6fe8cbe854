"""The house rule of the widgets: what a value is worth on the screen is worked out before it comes to them."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import tui.dashboard.widgets

WIDGETS = sorted(Path(tui.dashboard.widgets.__file__).parent.glob("*.py"))
WORKING_OUT = (ast.Div, ast.Mod, ast.Pow, ast.MatMult)
MATHS = {"math", "numpy", "statistics", "cmath"}


def reckoning(source: str) -> list[str]:
    """What a module works out: divisions that leave whole columns behind, and whatever needs a library for it."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.BinOp | ast.AugAssign) and isinstance(node.op, WORKING_OUT):
            found.append(f"line {node.lineno}: {ast.unparse(node)}")
        if isinstance(node, ast.Import):
            found += [f"line {node.lineno}: {alias.name}" for alias in node.names if alias.name in MATHS]
        if isinstance(node, ast.ImportFrom) and node.module in MATHS:
            found.append(f"line {node.lineno}: {node.module}")
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "round":
            found.append(f"line {node.lineno}: round")
    return found


@pytest.mark.parametrize("path", WIDGETS, ids=lambda path: path.stem)
def test_a_widget_works_out_nothing(path: Path) -> None:
    assert reckoning(path.read_text("utf-8")) == []


def test_what_would_be_found() -> None:
    source = "import math\nfrom numpy import mean\nx = a / 2\nx %= 3\ny = round(z)\nz = b // 2 - 1"
    assert len(reckoning(source)) == 5
