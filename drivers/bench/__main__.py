"""``python -m drivers.bench``: the virtual bench as a process of its own."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
import threading
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from .controls import obey
from .faults import FAULTS
from .leads import LEADS
from .live import LiveBench
from .model import Bench, BenchSetup
from .ports import open_port
from .script import SCRIPTS

__all__ = ["main"]


def main(argv: list[str] | None = None) -> int:
    """Run the bench until it is ended; gives the exit status."""
    options = _parser().parse_args(argv)
    bench = Bench(_setup(options))
    live = LiveBench(bench, open_port(tcp=options.tcp), open_port(tcp=options.tcp), options.seed)
    ports = {"meter": live.meter_port, "tach": live.tach_port}
    live.unplug = [(when_s, ports[name]) for name, when_s in options.unplug]
    try:
        _end_on_signals(live.ending)
        lines = _listen_to_stdin(live.ending, end_with_stdin=options.end_with_stdin)
        if options.truth is not None:
            _write_truth(options.truth, bench)
        _say({"card": "scpi-meter", "address": live.meter_port.address})
        _say({"card": "text-speed", "address": live.tach_port.address})
        live.run(lines, lambda line: _say(obey(bench, line)), duration_s=options.duration)
    finally:
        live.meter_port.close()
        live.tach_port.close()
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m drivers.bench",
        description="A virtual engine with alternator, multimeter and tachometer, on ports of their own.",
        epilog="Prints one JSON line for each instrument, then runs until ended.",
    )
    add = parser.add_argument
    add("--fault", choices=list(FAULTS), default="healthy", help="what is wrong with the machine")
    add("--script", choices=list(SCRIPTS), default="hold", help="what the throttle does")
    add("--seed", type=int, default=1, help="another number, another machine of the same kind")
    add("--hunting", action="store_true", help="the governor hunts widely")
    add("--leads", choices=list(LEADS), default="stator", help="what the meter's leads are on")
    add("--charge", type=_share, default=0.7, metavar="SHARE", help="the battery's state of charge, 0 to 1")
    add(
        "--false-tach", type=_share, default=0.0, metavar="SHARE", help="share of tach lines that count twice"
    )
    add("--tach-gap", type=_span, metavar="START:LENGTH", help="seconds in which the tach is silent")
    add("--stop-at", type=float, metavar="S", help="the engine stops by itself then")
    add(
        "--unplug",
        type=_unplug,
        action="append",
        default=[],
        metavar="meter:S|tach:S",
        help="a port goes away",
    )
    add("--duration", type=float, metavar="S", help="end by itself after so long")
    add("--tcp", action="store_true", help="TCP ports instead of pseudo-terminals")
    add(
        "--truth",
        metavar="FILE",
        help="write what is really so there, as one line of JSON (- for standard output)",
    )
    add("--end-with-stdin", action="store_true", help="end when standard input ends")
    return parser


def _setup(options: argparse.Namespace) -> BenchSetup:
    return BenchSetup(
        fault=options.fault,
        script=options.script,
        seed=options.seed,
        hunting=options.hunting,
        leads=options.leads,
        state_of_charge=options.charge,
        false_tach=options.false_tach,
        tach_gap=options.tach_gap,
        stop_at_s=options.stop_at,
    )


def _share(text: str) -> float:
    value = float(text)
    if not 0.0 <= value <= 1.0:
        raise argparse.ArgumentTypeError(f"{text} must be from 0 to 1")
    return value


def _span(text: str) -> tuple[float, float]:
    start, colon, length = text.partition(":")
    if not colon or float(start) < 0 or float(length) < 0:
        raise argparse.ArgumentTypeError(f"{text!r} must look like 12:3.5 (from, and for how long, in s)")
    return float(start), float(length)


def _unplug(text: str) -> tuple[str, float]:
    name, _, when = text.partition(":")
    if name not in {"meter", "tach"}:
        raise argparse.ArgumentTypeError(f"{text!r} must look like meter:10 or tach:10")
    return name, float(when)


def _say(thing: dict[str, Any]) -> None:
    try:
        sys.stdout.write(json.dumps(thing) + "\n")
        sys.stdout.flush()
    except BrokenPipeError:  # nobody listens any more; the ports still serve
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115 - lives as long as the process


def _write_truth(file: str, bench: Bench) -> None:
    truth = {"truth": bench.truth()}
    if file == "-":
        _say(truth)
    else:
        Path(file).write_text(json.dumps(truth) + "\n", encoding="utf-8")


def _end_on_signals(ending: threading.Event) -> None:
    for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, lambda *_: ending.set())


def _listen_to_stdin(ending: threading.Event, *, end_with_stdin: bool) -> SimpleQueue[str]:
    """Read lines in a thread, from the descriptor itself: nothing is left locked when the process ends."""
    lines: SimpleQueue[str] = SimpleQueue()
    if sys.stdin is None or (sys.stdin.isatty() and not end_with_stdin):
        return lines
    descriptor = sys.stdin.fileno()

    def listen() -> None:
        rest = b""
        while data := _read(descriptor):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                if line.strip():
                    lines.put(line.decode("utf-8", "replace"))
        if end_with_stdin:
            ending.set()

    threading.Thread(target=listen, daemon=True, name="standard input").start()
    return lines


def _read(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 4096)
    except OSError:  # closed or gone: the same as its end
        return b""


if __name__ == "__main__":
    sys.exit(main())
