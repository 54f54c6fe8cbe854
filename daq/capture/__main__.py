"""The capture process: one spec line on standard input, then control lines; see :mod:`daq.capture.spec`.

It ends, and closes the recording properly, within a second after any of: the
message ``stop``, the end of its seconds, the end of its standard input (the
dashboard has gone), SIGINT, SIGTERM, SIGHUP.
"""

from __future__ import annotations

import asyncio
import signal
import sys
import traceback

import msgspec

from daq.capture.pipes import LineReader, StatusWriter, lossy_log, watch_lines
from daq.capture.program import Capture
from daq.capture.spec import CaptureSpec, Failed, decode_control
from daq.errors import SpinvoltError, UsageError
from daq.model.clock import Clock, SystemClock
from daq.registry import load_registry

__all__ = ["main"]

# Reader threads get the interpreter back sooner: halves the worst stamps (measured, see DEVELOPERS.md).
_SWITCH_INTERVAL_S = 0.0005


def main(clock: Clock | None = None) -> int:
    """Run the capture; the exit status is 0 when a recording was closed properly, else 1.

    Args:
        clock: for stamps and pauses; None: the computer's.
    """
    sys.setswitchinterval(_SWITCH_INTERVAL_S)
    sys.stderr = lossy_log(2)
    lines = LineReader(0)
    status = StatusWriter(1)
    try:
        line = lines.next_line()
        spec = msgspec.json.decode(line or b"", type=CaptureSpec)
    except (ValueError, msgspec.DecodeError) as error:
        status.send(Failed(f"The capture was started without a spec that it understands: {error}."))
        return 1
    try:
        return 0 if asyncio.run(_run(spec, lines, status, clock or SystemClock())) else 1
    except SpinvoltError as error:
        status.send(Failed(str(error), usage=isinstance(error, UsageError)))
    except Exception as error:  # noqa: BLE001 - a named border: the process must say why it ends
        traceback.print_exc()
        status.send(Failed(f"The capture met a fault of its own: {type(error).__name__}: {error}."))
    return 1


async def _run(spec: CaptureSpec, lines: LineReader, status: StatusWriter, clock: Clock) -> bool:
    capture = Capture(spec, load_registry(), clock, status)
    loop = asyncio.get_running_loop()

    def handle(line: bytes | None) -> None:
        if line is None:
            capture.stop("the program that started it has gone")
            return
        try:
            capture.control(decode_control(line))
        except msgspec.DecodeError as error:
            print(f"capture: control message not understood: {error}", file=sys.stderr)  # noqa: T201 - the log

    watch_lines(lines, loop, handle)
    _stop_on_signals(loop, capture)
    return await capture.run()


def _stop_on_signals(loop: asyncio.AbstractEventLoop, capture: Capture) -> None:
    for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK"):
        number = getattr(signal, name, None)
        if number is None:
            continue
        reason = f"ended by {name}"
        if sys.platform == "win32":
            signal.signal(number, lambda *_, r=reason: loop.call_soon_threadsafe(capture.stop, r))
        else:
            loop.add_signal_handler(number, capture.stop, reason)


if __name__ == "__main__":
    sys.exit(main())
