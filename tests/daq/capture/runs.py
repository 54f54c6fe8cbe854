"""Starts real capture processes and reads what they recorded."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.registry import load_registry
from tests.drivers.peers import Behaviour, text_lines

__all__ = [
    "HICCUP_S",
    "JUNK",
    "SOON_S",
    "SPEED",
    "VOLTS",
    "card",
    "eventually",
    "events",
    "lines",
    "of_channel",
    "quiet",
    "spec",
]

SOON_S = 0.5
"""Silence limit of an instrument that is to fall silent, so that the test is quick."""
HICCUP_S = 1.2
"""Silence limit of one of which something must have come first: a busy machine may stop for a second just then."""

VOLTS = text_lines("AC %.1f V\r\n")
SPEED = text_lines("%.1f rpm\r\n")
JUNK = Behaviour(unasked=lambda n: b"\x80\x81\x13 q\r\n")

_CARDS = {card.name: card for driver in load_registry().drivers.values() for card in driver.cards()}


def card(name: str, **changes: object) -> dict[str, Any]:
    """A built-in card as plain data. Its silence limit of seconds stays where silence is not what is tried: a sender
    that a busy machine holds up for half a second is not to be told of.
    """
    table: dict[str, Any] = msgspec.to_builtins(_CARDS[name])
    return table | changes


def quiet(name: str, address: str, silence_s: float = SOON_S) -> InstrumentSpec:
    """An instrument whose silence is to be told soon."""
    return InstrumentSpec(card(name, silence_s=silence_s), address)


def spec(path: Path, *instruments: tuple[str, str] | InstrumentSpec, **more: Any) -> CaptureSpec:
    """A spec from pairs of card name and address, or from instruments as they are."""
    given = [
        one if isinstance(one, InstrumentSpec) else InstrumentSpec(card(one[0]), one[1])
        for one in instruments
    ]
    return CaptureSpec(path=str(path), instruments=given, **more)


def lines(path: Path) -> list[Any]:
    """What stands in a recording; while it grows, a line that is just being written may be seen in part."""
    data = path.read_bytes()
    return [json.loads(line) for line in data[: data.rfind(b"\n") + 1].splitlines()]


def of_channel(path: Path, channel: int) -> list[list[Any]]:
    """The readings of one channel, their times in nanoseconds."""
    rows = [line for line in lines(path) if isinstance(line, list) and line[0] == channel]
    return [[channel, 1000 * time_us, value, quality] for _, time_us, value, quality in rows]


def events(path: Path, kind: str) -> list[dict[str, Any]]:
    """The events of one kind."""
    return [e for e in lines(path) if isinstance(e, dict) and e["entry"] == "event" and e["kind"] == kind]


def eventually(condition: Callable[[], bool], within_s: float = 30.0) -> None:
    """Wait for another process; AssertionError when it does not come about."""
    import time

    end = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.02)
