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

__all__ = ["JUNK", "SPEED", "VOLTS", "card", "eventually", "events", "lines", "of_channel", "spec"]

VOLTS = text_lines("AC %.1f V\r\n")
SPEED = text_lines("%.1f rpm\r\n")
JUNK = Behaviour(unasked=lambda n: b"\x80\x81\x13 q\r\n")

_CARDS = {card.name: card for driver in load_registry().drivers.values() for card in driver.cards()}


def card(name: str, **changes: object) -> dict[str, Any]:
    """A built-in card as plain data, with a short silence limit so that tests are quick."""
    table: dict[str, Any] = msgspec.to_builtins(_CARDS[name])
    return table | {"silence_s": 0.5} | changes


def spec(path: Path, *instruments: tuple[str, str], **more: Any) -> CaptureSpec:
    """A spec from pairs of card name and address."""
    return CaptureSpec(
        path=str(path),
        instruments=[InstrumentSpec(card(name), address) for name, address in instruments],
        **more,
    )


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


def eventually(condition: Callable[[], bool], within_s: float = 8.0) -> None:
    """Wait for another process; AssertionError when it does not come about."""
    import time

    end = time.monotonic() + within_s
    while not condition():
        assert time.monotonic() < end, "it did not come about in time"
        time.sleep(0.02)
