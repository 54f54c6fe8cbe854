"""Rules of the house that no linter holds."""

from __future__ import annotations

import ast
from pathlib import Path

import daq

CORE = Path(daq.__file__).parent
_WALL_CLOCK = {"now", "utcnow", "today"}


def clock_calls(source: str) -> list[str]:
    """Where a module asks a clock: imports of ``time``, and ``datetime.now`` and its like."""
    found = []
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names=names):
                found += [f"line {node.lineno}: import {n.name}" for n in names if n.name == "time"]
            case ast.ImportFrom(module="time"):
                found.append(f"line {node.lineno}: from time import ...")
            case ast.Call(
                func=ast.Attribute(value=ast.Name(id="datetime" | "date" | "Timestamp"), attr=attr)
            ):
                found += [f"line {node.lineno}: {attr}()"] if attr in _WALL_CLOCK else []
            case _:
                pass
    return found


def test_time_is_passed_in_everywhere_in_the_core_but_the_clock() -> None:
    asking = {
        str(path.relative_to(CORE)): clock_calls(path.read_text("utf-8"))
        for path in sorted(CORE.rglob("*.py"))
    }
    assert len(asking) > 100
    assert asking.pop(str(Path("model", "clock.py")))
    assert {name: calls for name, calls in asking.items() if calls} == {}


def test_the_rule_sees_what_it_is_for() -> None:
    for source in ("import time", "from time import sleep", "datetime.now(UTC)", "x = date.today()"):
        assert clock_calls(source), source
    assert clock_calls("now = clock.now_ns()\nfrom datetime import datetime") == []
