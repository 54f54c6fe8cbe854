"""Lines on standard input that change something on the running bench."""

from __future__ import annotations

import json
import math
from typing import Any

from .model import Bench
from .plain_words import HELP, wish_of
from .script import script_named

__all__ = ["obey"]

_LONGEST_WAIT_S = 600.0
_ENGINE = {"test_speed": "work"}
"""What the engine is to do, where the script has another name."""


def obey(bench: Bench, line: str) -> dict[str, Any]:
    """Do what a line says, and give what to answer.

    A line is JSON, or plain words as in :mod:`drivers.bench.plain_words`.
    ``{"leads": "battery"}`` moves the meter's leads, ``{"script": "stopped"}`` or ``{"engine": "idle"}``
    starts another script, ``{"loads": ["work_lamp"]}`` switches loads (``"on"``, ``"off"``: all of them),
    ``{"wait": 60}`` lets a minute pass at once, ``{"fault": "healthy"}`` repairs (or breaks)
    the machine, ``{"wiggle": true}`` shakes the wiring, ``{"stop_engine": true}`` stops the engine,
    ``{"truth": true}`` only asks. Keys are done in their order, up to the first
    that can't be. The answer repeats the line with the bench's time (and what is
    true, where that was asked for), or holds an error.
    """
    try:
        wish = json.loads(line) if line.lstrip().startswith(("{", "[")) else wish_of(line)
        if not isinstance(wish, dict) or not wish:
            raise ValueError("a line must be a JSON object with at least one key")
        for key, value in wish.items():
            _change(bench, key, value)
    except (ValueError, TypeError) as error:
        return {"error": f"{error}", "t_s": round(bench.t_s, 3)}
    if "help" in wish:
        return {"help": HELP.splitlines()}
    answer = {"done": wish, "t_s": round(bench.t_s, 3)}
    return {**answer, "truth": bench.truth()} if "truth" in wish else answer


def _change(bench: Bench, key: str, value: Any) -> None:
    match key:
        case "leads":
            bench.put_leads(str(value))
        case "script" | "engine":
            bench.machine.run(script_named(_ENGINE.get(str(value), str(value))))
        case "loads":
            _switch_loads(bench, value)
        case "wait":
            _wait(bench, float(value))
        case "fault":
            bench.repair(str(value))
        case "wiggle":
            bench.machine.wiggled = bool(value)
        case "stop_engine":
            bench.machine.stopped = bool(value)
        case "truth" | "help":
            pass
        case _:
            raise ValueError(
                f"There is nothing called {key!r} to change; there are: "
                "leads, script, engine, loads, wait, fault, wiggle, stop_engine, truth, help."
            )


def _switch_loads(bench: Bench, value: Any) -> None:
    loads = bench.machine.charging.loads
    names = {"on": list(loads.amps), "off": []}.get(value) if isinstance(value, str) else value
    if not isinstance(names, list):
        raise ValueError(f"loads are switched by a list of names, 'on' or 'off', not by {value!r}")
    loads.switch([str(name) for name in names])


def _wait(bench: Bench, seconds: float) -> None:
    """Let time pass at once; what the tach sent meanwhile nobody heard."""
    if not (math.isfinite(seconds) and 0.0 <= seconds <= _LONGEST_WAIT_S):
        raise ValueError(f"wait takes 0 to {_LONGEST_WAIT_S:g} s, not {seconds:g}")
    bench.step(seconds)
    bench.meter.restart()
    bench.tach.take(bench.t_s)
