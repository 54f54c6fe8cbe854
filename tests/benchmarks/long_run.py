"""A day at full length: four instruments at ten readings a second for 24 hours, as fast as the pipeline takes it.

Run as ``python -m tests.benchmarks.long_run [HOURS]``. Bytes go through the text decoders into the writer, and the
file is followed as ``watch`` follows it, with a look every half minute of the session; session time is handed in,
so that a day passes in minutes. Wanted (issue 7): memory flat (under 20 MB of growth), under 25 bytes a reading,
and a look that costs no more at the end than at the start.
"""

from __future__ import annotations

import math
import random
import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

import msgspec

from daq.model.quantity import Quantity
from daq.recording.entries import ClockEntry, Line
from daq.recording.follow import FileFollower
from daq.recording.writer import RecordingWriter
from daq.run.live import LiveRun
from drivers.text.decoder import make_decoder
from drivers.text.settings import parse_settings
from tests.benchmarks.recording_speed import SESSION, head_lines
from tests.drivers.decoder_samples import card

_PER_S = 10
_LOOK_EVERY_S = 30
_CHANNELS = (Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED, Quantity.DC_VOLTAGE, Quantity.DC_CURRENT)


class _Instruments:
    """What the four send: lines of text at ten a second each, a few milliseconds apart."""

    def __init__(self) -> None:
        self._random = random.Random(1)
        self._decoders = []
        for quantity in _CHANNELS:
            own = card("text-speed" if quantity is Quantity.ROTATIONAL_SPEED else "text-volts")
            channel = msgspec.structs.replace(own.channel[0], quantity=quantity)
            self._decoders.append(make_decoder([channel], parse_settings(own)))

    def readings(self, tick: int) -> list[Line]:
        """All readings of one tenth of a second."""
        speed_rpm = 3300.0 + 300.0 * math.sin(tick / 300.0)
        values = (
            f"{speed_rpm * 24 / 3600 + self._random.gauss(0, 0.01):.2f}",
            f"{speed_rpm:.0f}",
            f"{14.2 + self._random.gauss(0, 0.02):.2f}",
            f"{3.1 + self._random.gauss(0, 0.05):.2f}",
        )
        lines: list[Line] = []
        for number, (decoder, text) in enumerate(zip(self._decoders, values, strict=True)):
            t_ns = tick * 100_000_000 + number * 7_000_000 + self._random.randrange(5_000_000)
            for reading in decoder.feed(text.encode() + b"\n", t_ns):
                lines.append(msgspec.structs.replace(reading, channel=number))
        return lines


def _resident_mb() -> float:
    return int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize() / 1e6


def run_day(hours: float, path: Path) -> None:
    writer = RecordingWriter.create(path, SESSION, force=True)
    writer.write(head_lines(_CHANNELS))
    instruments, looks, begun = _Instruments(), [], time.perf_counter()
    ticks = int(hours * 3600 * _PER_S)
    at_start_mb, size_an_hour_ago = 0.0, 0
    print("  hour   memory MB   a look, ms   bytes a reading in the hour")
    with FileFollower(path) as follower:
        live = LiveRun(follower)
        for tick in range(ticks):
            writer.write(instruments.readings(tick))
            if tick % (60 * _PER_S) == 0:
                writer.write([ClockEntry(t_ns=tick * 100_000_000, utc="2026-03-01T00:00:00.000000Z")])
            if tick % 2 == 0:
                writer.flush()
            if tick % (_LOOK_EVERY_S * _PER_S) == 0:
                look = time.process_time()
                live.update()
                looks.append(1e3 * (time.process_time() - look))
            if tick == 600 * _PER_S:
                at_start_mb = _resident_mb()
            if (tick + 1) % (3600 * _PER_S) == 0:
                size = path.stat().st_size
                grown = (size - size_an_hour_ago) / (3600 * _PER_S * len(_CHANNELS))
                hour = (tick + 1) // (3600 * _PER_S)
                print(
                    f"{hour:6d} {_resident_mb():11.1f} {statistics.median(looks[-100:]):12.2f} {grown:16.2f}"
                )
                size_an_hour_ago = size
        growth_mb = _resident_mb() - at_start_mb
    writer.close(ticks * 100_000_000, "end")
    readings = ticks * len(_CHANNELS)
    print(f"{readings} readings in {time.perf_counter() - begun:.0f} s; {hours:g} h of session")
    print(f"growth of memory after the first ten minutes: {growth_mb:.1f} MB (wanted: under 20)")
    print(f"{path.stat().st_size / readings:.2f} bytes a reading (wanted: under 25)")
    first, last = statistics.median(looks[20:120]), statistics.median(looks[-100:])
    print(f"a look: {first:.2f} ms in the first hour, {last:.2f} ms in the last, ratio {last / first:.2f}")


def main() -> None:
    hours = float(sys.argv[1]) if len(sys.argv) > 1 else 24.0
    with tempfile.TemporaryDirectory() as name:
        run_day(hours, Path(name) / "day.jsonl")


if __name__ == "__main__":
    main()
