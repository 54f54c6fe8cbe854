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
from .live import LiveBench
from .model import Bench
from .options import parse_options, setup_from
from .plain_words import HELP
from .ports import open_port

__all__ = ["main"]


def main(argv: list[str] | None = None) -> int:
    """Run the bench until it is ended; gives the exit status."""
    options = parse_options(argv)
    try:
        _run(options)
    except OSError as error:
        sys.stderr.write(f"The bench can't go on: {error}.\n")
        return 1
    return 0


def _run(options: argparse.Namespace) -> None:
    bench = Bench(setup_from(options))
    if options.truth is not None:
        _write_truth(options.truth, bench)
    live = LiveBench(bench, open_port(tcp=options.tcp), open_port(tcp=options.tcp), options.seed)
    live.unplug = [(when_s, live.port(name)) for name, when_s in options.unplug]
    try:
        _end_on_signals(live)
        lines = _listen_to_stdin(live, end_with_stdin=options.end_with_stdin)
        _say({"card": "bench-meter", "address": live.meter_port.address})
        _say({"card": "bench-tach", "address": live.tach_port.address})
        if sys.stdin is not None and sys.stdin.isatty():
            sys.stderr.write(HELP + "\n")
        live.run(lines, lambda line: _answer(obey(bench, line)), duration_s=options.duration)
    finally:
        live.close()


def _answer(answer: dict[str, Any]) -> None:
    if "help" in answer and sys.stdin.isatty():
        sys.stderr.write(HELP + "\n")
    else:
        _say(answer)


def _say(thing: dict[str, Any]) -> None:
    try:
        sys.stdout.write(json.dumps(thing) + "\n")
        sys.stdout.flush()
    except BrokenPipeError:  # nobody listens any more; the ports still serve
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)


def _write_truth(file: str, bench: Bench) -> None:
    truth = {"truth": bench.truth()}
    if file == "-":
        _say(truth)
    else:
        Path(file).write_text(json.dumps(truth) + "\n", encoding="utf-8")


def _end_on_signals(live: LiveBench) -> None:
    def end(_number: int, _frame: object) -> None:
        live.ending = True

    for name in ("SIGTERM", "SIGINT", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, end)


def _listen_to_stdin(live: LiveBench, *, end_with_stdin: bool) -> SimpleQueue[str]:
    """Read lines in a thread, from the descriptor itself: nothing is left locked when the process ends."""
    lines: SimpleQueue[str] = SimpleQueue()
    if sys.stdin is None:
        return lines
    if hasattr(signal, "SIGTTIN"):
        # Put into the background of a terminal, it goes on without listening instead of being halted.
        signal.signal(signal.SIGTTIN, signal.SIG_IGN)
    descriptor = sys.stdin.fileno()

    def listen() -> None:
        rest = b""
        while data := _read(descriptor):
            *whole, rest = (rest + data).split(b"\n")
            for line in whole:
                if line.strip():
                    lines.put(line.decode("utf-8", "replace"))
        if end_with_stdin:
            live.ending = True

    threading.Thread(target=listen, daemon=True, name="standard input").start()
    return lines


def _read(descriptor: int) -> bytes:
    try:
        return os.read(descriptor, 4096)
    except OSError:  # closed or gone: the same as its end
        return b""


if __name__ == "__main__":
    sys.exit(main())
