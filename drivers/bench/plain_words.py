"""A line in plain words, as a person at the bench types it: "leads battery; engine idle"."""

from __future__ import annotations

from typing import Any

__all__ = ["HELP", "wish_of"]

HELP = """\
Type a line to change something; several with ";" between them:
  leads PLACE      battery, load_current, battery_current, stator, shorted, stator_to_ground,
                   rectifier_current, stator_loaded, output_terminal, fuse, wiring, lamp_stator,
                   lamps, nothing
  engine HOW       stopped, idle, test_speed; sweep (up and down), hold (idle, then test speed), steps
  loads on|off     or the names of those that shall be on
  wait SECONDS     lets that much time pass at once, 600 s at most
  wiggle on|off    shakes the wiring
  stall            the engine stops by itself
  fault NAME       breaks the machine, or repairs it: fault healthy
  ?                says this again
The meter's dial turns with the card that asks it, all on the meter's address: bench-meter (AC volts),
bench-dc-volts, bench-amps, bench-ohms."""

_SWITCH = {"on": True, "off": False}


def wish_of(line: str) -> dict[str, Any]:
    """What a line asks for, in the keys of :func:`drivers.bench.controls.obey`.

    Raises:
        ValueError: in a sentence, what is wrong with it.
    """
    wish: dict[str, Any] = {}
    for part in filter(None, (each.strip() for each in line.split(";"))):
        word, *rest = part.split()
        key, value = _one(word.lower(), rest, part)
        wish[key] = value
    return wish


def _one(word: str, rest: list[str], part: str) -> tuple[str, Any]:
    if word in {"?", "help"} and not rest:
        return "help", True
    if word == "stall" and not rest:
        return "stop_engine", True
    if word == "loads" and rest:
        return word, rest[0] if len(rest) == 1 and rest[0] in _SWITCH else rest
    if word == "engine" and rest:
        return word, "_".join(rest)  # "test speed" is the same as "test_speed"
    if word == "wiggle" and len(rest) == 1 and rest[0] in _SWITCH:
        return word, _SWITCH[rest[0]]
    if word in {"leads", "script", "fault", "wait"} and len(rest) == 1:
        return word, rest[0]
    raise ValueError(f"{part!r} is nothing the bench can do; '?' lists what it can.")
