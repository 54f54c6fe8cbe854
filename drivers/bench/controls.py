"""Lines on standard input that change something on the running bench."""

from __future__ import annotations

import json
from typing import Any

from .model import Bench
from .script import script_named

__all__ = ["obey"]


def obey(bench: Bench, line: str) -> dict[str, Any]:
    """Do what a line of JSON says, and give what to answer.

    ``{"leads": "battery"}`` moves the meter's leads, ``{"script": "stopped"}`` starts another
    script, ``{"loads": ["work_lamp"]}`` switches loads, ``{"fault": "healthy"}`` repairs (or breaks)
    the machine, ``{"wiggle": true}`` shakes the wiring, ``{"stop_engine": true}`` stops the engine,
    ``{"truth": true}`` only asks. Keys are done in their order, up to the first
    that can't be. The answer repeats the line with the bench's time (and what is
    true, where that was asked for), or holds an error.
    """
    try:
        wish = json.loads(line)
        if not isinstance(wish, dict) or not wish:
            raise ValueError("a line must be a JSON object with at least one key")
        for key, value in wish.items():
            _change(bench, key, value)
    except (ValueError, TypeError) as error:
        return {"error": f"{error}", "t_s": round(bench.t_s, 3)}
    answer = {"done": wish, "t_s": round(bench.t_s, 3)}
    return {**answer, "truth": bench.truth()} if "truth" in wish else answer


def _change(bench: Bench, key: str, value: Any) -> None:
    match key:
        case "leads":
            bench.put_leads(str(value))
        case "script":
            bench.machine.run(script_named(str(value)))
        case "loads":
            bench.machine.charging.loads.switch([str(name) for name in value])
        case "fault":
            bench.repair(str(value))
        case "wiggle":
            bench.machine.wiggled = bool(value)
        case "stop_engine":
            bench.machine.stopped = bool(value)
        case "truth":
            pass
        case _:
            raise ValueError(
                f"There is nothing called {key!r} to change; there are: "
                "leads, script, loads, fault, wiggle, stop_engine, truth."
            )
