"""How many readings a second each decoder keeps up with on a quarter of one core.

Run as ``python -m tests.benchmarks.decoder_speed``. Wanted (issue 4): 10,000, that is a ratio of 1 or more. Each
frame is fed by itself, as it arrives from an instrument; the best of five runs counts.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence

import msgspec

from daq.driver_api import Quality, Reading
from drivers.frame.checks import crc16_modbus
from drivers.gatt.settings import parse_settings as gatt_settings
from drivers.gatt.sources import decoder_for, plan_sources
from drivers.keyboard.line import read_typed
from drivers.scpi.session import ScpiSession
from drivers.scpi.settings import parse_settings as scpi_settings
from drivers.text.decoder import make_decoder
from drivers.text.settings import parse_settings as text_settings
from tests.drivers.decoder_samples import SAMPLES, AskedAgain, card
from tests.drivers.frame.drawing import segment_frame
from tests.drivers.nmea.generator import rpm

_FRAMES = 10_000
_WANTED_PER_S = 10_000
_SHARE_OF_A_CORE = 0.25
_RUNS = 5

Feed = Callable[[bytes, int], list[Reading]]
Case = tuple[Callable[[], Feed], Sequence[bytes]]


_SETTING = {b"FUNC?\n": b'"VOLT:AC"\n', b"VOLT:AC:RANG?\n": b"60\n", b"VOLT:AC:RANG:AUTO?\n": b"0\n"}


class _ScpiAsked:
    """A SCPI session that has always just asked for a reading."""

    def __init__(self) -> None:
        meter = card("scpi-meter")
        self._session = ScpiSession(meter.channel[0], scpi_settings(meter))
        self._now_ns = 0
        self._behind: list[Reading] = []
        for answer in (b"NURSERY,BENCH,0,1\n", b'0,"No error"\n'):
            self._ask()
            self._session.feed(answer, self._now_ns)

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._ask()
        behind, self._behind = self._behind, []
        return behind + self._session.feed(data, self._now_ns)

    def _ask(self) -> None:
        """Let it ask for a reading; what it asks of the setting on the way is answered."""
        while True:
            self._now_ns = self._session.due_ns(self._now_ns + 1)
            answer = _SETTING.get(self._session.advance(self._now_ns))
            if answer is None:
                return
            self._behind += self._session.feed(answer, self._now_ns)


def _sample(name: str) -> Callable[[], Feed]:
    make = next(sample.make for sample in SAMPLES if sample.name == name)
    return lambda: make().feed


def _pair(**settings: object) -> Callable[[], Feed]:
    pair = msgspec.structs.replace(card("text-pair"), settings=settings)
    return lambda: make_decoder(pair.channel, text_settings(pair)).feed


def _ble(name: str) -> Callable[[], Feed]:
    def make() -> Feed:
        instrument = card(name)
        (source,) = plan_sources(instrument, gatt_settings(instrument))
        return decoder_for(instrument, source, None).feed

    return make


def _typed() -> Feed:
    channels = card("keyboard-pair").channel
    return lambda data, t_ns: read_typed(data.decode(), channels, t_ns).readings


def _modbus_answers(*, tcp: bool) -> list[bytes]:
    body = bytes.fromhex("01 04 08 41 9C F5 C3 43 34 00 00")
    if tcp:
        return [n.to_bytes(2, "big") + b"\0\0\0\x0b" + body for n in range(1, _FRAMES + 1)]
    return [body + crc16_modbus(body).to_bytes(2, "little")] * _FRAMES


def _speed_frame(tenths: int) -> bytes:
    data = b"\xaa\x55\0" + tenths.to_bytes(4, "big")
    return data + bytes([sum(data) & 0xFF])


def cases() -> dict[str, Case]:
    """Each decoder with its frames."""
    count = range(_FRAMES)
    meter = card("modbus-meter")
    return {
        "text, one number": (_sample("text-volts"), [b"AC %d.%02d V\r\n" % (19, n % 100) for n in count]),
        "text, delimiter": (_sample("text-pair"), [b"%d,19.62\r\n" % (3500 + n % 100) for n in count]),
        "text, pattern": (
            _pair(pattern=r"n=(\S+) u=(\S+)"),
            [b"n=%d u=19.62\r\n" % (3500 + n % 100) for n in count],
        ),
        "text, JSON": (
            _pair(keys=["rpm", "volts"]),
            [b'{"rpm": %d, "volts": 19.62}\r\n' % (3500 + n % 100) for n in count],
        ),
        "scpi": (lambda: _ScpiAsked().feed, [b"+1.96%02d0000E+01\n" % (n % 100) for n in count]),
        "nmea": (_sample("nmea"), [rpm(f"{2400 + n % 100}.5") for n in count]),
        "modbus, RTU": (lambda: AskedAgain(meter, tcp=False).feed, _modbus_answers(tcp=False)),
        "modbus, TCP": (lambda: AskedAgain(meter, tcp=True).feed, _modbus_answers(tcp=True)),
        "frame, described": (_sample("frame-speed"), [_speed_frame(35_000 + n % 1000) for n in count]),
        "frame, segments": (_sample("segment-meter"), [segment_frame("19.62", "AC", "V")] * _FRAMES),
        "counter": (_sample("counter"), [b"%d,%d\n" % (n, 10_000 * n) for n in count]),
        "keyboard": (_typed, [b"19.%d 3580" % (n % 100) for n in count]),
        "gatt, speed": (_ble("ble-speed"), [(3500 + n % 100).to_bytes(4, "little") for n in count]),
        "gatt, volts": (_ble("ble-volts"), [(1000 + n % 100).to_bytes(2, "little") for n in count]),
        "gatt, revolutions": (
            _ble("ble-revolutions"),
            [
                b"\1" + (60 * n).to_bytes(4, "little") + (1024 * n % 65_536).to_bytes(2, "little")
                for n in count
            ],
        ),
    }


def _run(case: Case) -> tuple[int, float]:
    """Readings, and the seconds of processor time they took."""
    make, frames = case
    feed = make()
    came: list[Reading] = []
    started = time.process_time()
    for n, frame in enumerate(frames):
        came += feed(frame, n * 10_000_000)
    seconds = time.process_time() - started
    good = sum(reading.quality is Quality.GOOD for reading in came)
    if good != len(came) or good < len(frames):
        raise SystemExit(f"only {good} of {len(came)} readings are good: the measurement is worth nothing")
    return good, seconds


def main() -> int:
    """Measure all of them and print a line each; the exit status is 0 when all keep up."""
    met = True
    print(f"{'decoder':20}{'readings/s on a quarter core':>30}{'of ' + str(_WANTED_PER_S):>12}")
    for name, case in cases().items():
        rates = [readings / seconds for readings, seconds in (_run(case) for _ in range(_RUNS))]
        rate = _SHARE_OF_A_CORE * max(rates)
        print(f"{name:20}{rate:30.0f}{rate / _WANTED_PER_S:12.1f}")
        met = met and rate >= _WANTED_PER_S
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
