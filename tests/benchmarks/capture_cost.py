"""What the capture costs: four instruments at ten readings a second, without a dashboard.

``python -m tests.benchmarks.capture_cost [SECONDS]``. Wanted (issue 4): under 5 % of one core.

The real capture process reads real pseudo-terminals: a meter that is asked, a
tach that sends text, a hand meter that sends its display's segments, a board
that counts. They are served by this process, whose time is not counted.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import msgspec

from daq.capture.launch import CaptureProcess
from daq.capture.spec import CaptureSpec, InstrumentSpec
from daq.catalog import instrument_card
from daq.recording.reader import read_recording
from daq.registry import load_registry
from tests.drivers.frame.drawing import segment_frame
from tests.drivers.peers import BEHAVIOURS, Behaviour, PtyPeer, text_lines

SECONDS = 20.0
PERIOD_S = 0.1
MOST_SHARE = 0.05
LEAST_PACE = 0.98 / PERIOD_S
"""Readings a second on each channel: fewer cost less, and show nothing."""
_STARTS_WITHIN_S = 2.0


def main() -> int:
    """Print the share of a core; the exit status is 0 when it is within what is wanted."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS
    with tempfile.TemporaryDirectory() as folder:
        share, paces = measure(Path(folder) / "run.jsonl", seconds)
    print(f"readings a second on each channel: {', '.join(f'{name} {pace:.1f}' for name, pace in paces)}")
    print(f"capture: {100 * share:.2f} % of one core (wanted: under {100 * MOST_SHARE:.0f} %)")
    slowest = min(pace for _, pace in paces)
    if slowest < LEAST_PACE:
        print(f"not all readings came: wanted {LEAST_PACE:g} a second of each")
    return 0 if share < MOST_SHARE and slowest >= LEAST_PACE else 1


def measure(path: Path, seconds: float) -> tuple[float, list[tuple[str, float]]]:
    """Share of a core that the capture took, and how many readings a second came of each channel."""
    with ExitStack() as stack:
        instruments = [
            InstrumentSpec(card(name, **changes), stack.enter_context(PtyPeer(behaviour)).address)
            for name, behaviour, changes in peers()
        ]
        spec = CaptureSpec(path=str(path), instruments=instruments)
        capture = stack.enter_context(CaptureProcess.start(spec))
        time.sleep(_STARTS_WITHIN_S)
        before_s, begun_s = cpu_s(capture.pid), time.monotonic()
        time.sleep(seconds)
        took_s, lasted_s = cpu_s(capture.pid) - before_s, time.monotonic() - begun_s
        capture.stop()
        capture.wait(10)
    recording = read_recording(path)
    paces = []
    for entry in recording.channels:
        t_s = recording.columns(entry.channel).t_ns / 1e9
        paces.append((entry.instrument, (len(t_s) - 1) / float(t_s[-1] - t_s[0])))
    return took_s / lasted_s, paces


def peers() -> list[tuple[str, Behaviour, dict[str, Any]]]:
    """Card, what its instrument does, and changes to the card."""
    asked = BEHAVIOURS["scpi"][1]._replace(period_s=PERIOD_S)
    counter = Behaviour(unasked=lambda n: b"%d,%d\r\n" % (6 * n, 100_000 * n), period_s=PERIOD_S)
    segments = Behaviour(unasked=lambda n: segment_frame("19.62", "V", "AC"), period_s=PERIOD_S)
    tach = text_lines("%.1f rpm\r\n")._replace(period_s=PERIOD_S)
    return [
        ("scpi-meter", asked, {"interval_s": PERIOD_S}),
        ("text-speed", tach, {}),
        ("segment-meter", segments, {}),
        ("counter-board", counter, {}),
    ]


def card(name: str, **settings: Any) -> dict[str, Any]:
    """A built-in card as plain data, with some of its settings changed."""
    table: dict[str, Any] = msgspec.to_builtins(instrument_card(name, load_registry()))
    return table | {"settings": table["settings"] | settings}


def cpu_s(process: int) -> float:
    """Time a process has had on the processor, its own and the kernel's for it."""
    fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


if __name__ == "__main__":
    sys.exit(main())
