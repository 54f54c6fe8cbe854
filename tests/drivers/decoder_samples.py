"""A sample for each decoder that is fed bytes: frames it understands and what they say."""

from __future__ import annotations

from collections.abc import Callable

from daq.driver_api import InstrumentCard, Quality, Reading
from drivers.builtin_cards import builtin_cards
from drivers.counter.decoder import CounterDecoder
from drivers.counter.settings import parse_settings as counter_settings
from drivers.frame.checks import crc16_modbus
from drivers.frame.decoder import FrameDecoder
from drivers.frame.described import DescribedLayout
from drivers.frame.segments import SegmentLayout
from drivers.frame.settings import DescribedFrame
from drivers.frame.settings import parse_settings as frame_settings
from drivers.modbus.framing import Framing
from drivers.modbus.session import ModbusSession
from drivers.modbus.settings import parse_settings as modbus_settings
from drivers.nmea.decoder import NmeaDecoder
from drivers.nmea.settings import parse_settings as nmea_settings
from drivers.text.columns import ColumnsDecoder
from drivers.text.decoder import TextDecoder, make_decoder
from drivers.text.settings import parse_settings as text_settings
from tests.drivers.decoder_kit import Outcome, Sample
from tests.drivers.frame.drawing import segment_frame
from tests.drivers.nmea.generator import rpm, xdr

__all__ = ["SAMPLES", "AskedAgain", "card"]

GOOD = Quality.GOOD


def card(name: str) -> InstrumentCard:
    """A built-in card."""
    return builtin_cards(name)[0]


class AskedAgain:
    """A Modbus session as a decoder: it has always just been told to ask."""

    def __init__(self, instrument: InstrumentCard, *, tcp: bool) -> None:
        settings = modbus_settings(instrument)
        self._session = ModbusSession(instrument.channel, settings, Framing(tcp=tcp, unit=settings.unit), 0.0)
        self.max_frame = self._session.max_frame
        self._now_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        if self._session._asked is None:
            self._now_ns = self._session.due_ns(self._now_ns + 1)
            self._session.advance(self._now_ns)
        return self._session.feed(data, t_ns)

    def flush(self) -> list[Reading]:
        return self._session.flush()

    def resync(self) -> None:
        self._session.lost()


def _nmea() -> NmeaDecoder:
    return NmeaDecoder(card("nmea-engine").channel, nmea_settings(card("nmea-engine")))


def _counter() -> CounterDecoder:
    board = card("counter-board")
    return CounterDecoder(board.channel[0], board.channel[1], counter_settings(board))


def _frames(instrument: InstrumentCard) -> Callable[[], FrameDecoder]:
    settings = frame_settings(instrument)

    def make() -> FrameDecoder:
        if isinstance(settings, DescribedFrame):
            return FrameDecoder(DescribedLayout(instrument.channel, settings))
        return FrameDecoder(SegmentLayout(instrument.channel[0], settings))

    return make


def _text(name: str) -> Callable[[], TextDecoder | ColumnsDecoder]:
    return lambda: make_decoder(card(name).channel, text_settings(card(name)))


def _modbus(*, tcp: bool) -> Callable[[], AskedAgain]:
    return lambda: AskedAgain(card("modbus-meter"), tcp=tcp)


# 19.62 V and 180.0 Hz as 32-bit floats, for unit 1, function 4.
_MODBUS_BODY = bytes.fromhex("01 04 08 41 9C F5 C3 43 34 00 00")
_MODBUS_VALUES: Outcome = [(0, 19.6200008392334, GOOD), (1, 180.0, GOOD)]

SAMPLES = [
    Sample(
        "text-volts",
        _text("text-volts"),
        [b"AC 19.62 V\r\n", b"OL\n", b"DC 12.6 V\r\n"],
        [[(0, 19.62, GOOD)], [(0, None, Quality.OVERLOAD)], [(0, 12.6, Quality.WRONG_FUNCTION)]],
        junk=b"\x00\xff\x80\n",
    ),
    Sample(
        "text-pair",
        _text("text-pair"),
        [b"3580,19.62\r\n", b"3581,\n", b"OL,19.63 V\r\n"],
        [
            [(0, 3580.0, GOOD), (1, 19.62, GOOD)],
            [(0, 3581.0, GOOD), (1, None, Quality.BLANK)],
            [(0, None, Quality.OVERLOAD), (1, 19.63, GOOD)],
        ],
        junk=b"\x00\xff\x80\n",
        channels=2,
    ),
    Sample(
        "nmea",
        _nmea,
        [
            rpm("2418.2"),
            xdr(("U", "13.8", "V", "BATT"), ("C", "41", "C", "ENGT")),
            rpm("", status="V"),
            rpm("2420"),
        ],
        [
            [(0, 2418.2, GOOD)],
            [(1, 13.8, GOOD)],
            [(0, None, Quality.NOT_A_NUMBER)],
            [(0, 2420.0, GOOD)],
        ],
        junk=b"\x00\xff$IIRPM,E,1,99\x80\n",
        channels=2,
    ),
    Sample(
        "counter",
        _counter,
        [b"4294967290,4294000000\n", b"4294967295,4294500000\r\n", b"12,532704\n"],
        [
            [(0, 4294967290.0, GOOD), (1, 4294.0, GOOD)],
            [(0, 4294967295.0, GOOD), (1, 4294.5, GOOD)],
            [(0, 4294967308.0, GOOD), (1, 4295.5, GOOD)],
        ],
        junk=b"\x00\xff7,8,9\x80\n",
        channels=2,
    ),
    Sample(
        "frame-speed",
        _frames(card("frame-speed")),
        [
            bytes.fromhex("AA 55 00 00 00 8B D8 62"),
            bytes.fromhex("AA 55 01 00 00 8C A0 2C"),
            bytes.fromhex("AA 55 00 00 AA 55 AA A8"),
        ],
        [[(0, 3580.0, GOOD)], [(0, 3600.0, Quality.LOW_BATTERY)], [(0, 1116305.0, GOOD)]],
        junk=b"\x00\xffjunk\xaa\x55\x80",
    ),
    Sample(
        "segment-meter",
        _frames(card("segment-meter")),
        [
            segment_frame("19.62", "AC", "V", "auto", "link"),
            segment_frame("0L", "AC", "V", "link"),
            segment_frame("196.2", "AC", "V", "m", "HOLD"),
            segment_frame("", "AC", "V"),
        ],
        [
            [(0, 19.62, GOOD)],
            [(0, None, Quality.OVERLOAD)],
            [(0, 0.1962, Quality.HOLD)],
            [(0, None, Quality.BLANK)],
        ],
        junk=b"\x00\xff\x12\x25\x80",
    ),
    Sample(
        "modbus-rtu",
        _modbus(tcp=False),
        [_MODBUS_BODY + crc16_modbus(_MODBUS_BODY).to_bytes(2, "little")],
        [_MODBUS_VALUES],
        junk=b"\x00\xff\x01\x04\x80",
        channels=2,
    ),
    Sample(
        "modbus-tcp",
        _modbus(tcp=True),
        [b"\0\1\0\0\0\x0b" + _MODBUS_BODY],
        [_MODBUS_VALUES],
        junk=b"\x00\xff\x01\x04\x80",
        channels=2,
    ),
]
