"""100,000 random and mutated packets through each decoder: no exception, no growth, and it works on afterwards."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from daq.driver_api import ChannelCard, Quality, Quantity, Reading, parse_instrument_card
from drivers.gatt.counts import CountsDecoder
from drivers.gatt.known import KNOWN
from drivers.gatt.numbers import NUMBER_FORMATS, Number, NumberFormat
from drivers.gatt.presentation import parse_presentation_format
from drivers.gatt.settings import parse_settings
from drivers.gatt.sources import PacketDecoder, decoder_for, plan_sources
from drivers.gatt.uuids import ROTATIONAL_SPEED, VOLTAGE
from drivers.gatt.values import Place, ValuesDecoder

EXAMPLES, PACKETS_EACH = 200, 500


def known(number: int, quantity: Quantity) -> PacketDecoder:
    reads = KNOWN[number]
    return ValuesDecoder([Place(0, ChannelCard(quantity), reads.read, reads.size, 0, reads.size)])


def described() -> PacketDecoder:
    by_device = parse_presentation_format(bytes.fromhex("167f4327010000"))
    assert by_device is not None
    return ValuesDecoder([Place(0, ChannelCard(Quantity.ROTATIONAL_SPEED), by_device.read, by_device.size)])


def without_exponent(number_format: NumberFormat) -> Callable[[bytes], Number]:
    return lambda data: number_format.read(data, 0)


def by_card() -> PacketDecoder:
    channel = ChannelCard(Quantity.AC_VOLTAGE, scale=1e9)
    places = []
    for n, number_format in enumerate(
        NUMBER_FORMATS[name] for name in ("sint24", "float64", "SFLOAT", "FLOAT")
    ):
        places.append(Place(n, channel, without_exponent(number_format), number_format.size, n % 4))
    return ValuesDecoder(places)


def text() -> PacketDecoder:
    card = parse_instrument_card(
        'name="t"\ntitle="t"\nprotocol="gatt"\n[settings.text]\ncharacteristic="2A00"\npackets="lines"\n'
        '[[channel]]\nquantity="ac_voltage"\n',
        origin="test",
    )
    (source,) = plan_sources(card, parse_settings(card))
    return decoder_for(card, source, None)


DECODERS: dict[str, tuple[Callable[[], PacketDecoder], bytes]] = {
    "rotational speed": (
        lambda: known(ROTATIONAL_SPEED, Quantity.ROTATIONAL_SPEED),
        bytes.fromhex("100e0000"),
    ),
    "voltage": (lambda: known(VOLTAGE, Quantity.AC_VOLTAGE), bytes.fromhex("4003")),
    "csc": (lambda: CountsDecoder(0, 1, 1), bytes.fromhex("0304030201ffff0500feff")),
    "described": (described, bytes.fromhex("7bf0")),
    "by card": (by_card, bytes(range(12))),
    "text": (text, b"AC 19.62 V"),
}


def mutate(packet: bytes, chance: random.Random) -> bytes:
    """A random packet, or the good one with bytes changed, put in, taken out or cut off."""
    if chance.random() < 0.3:
        return chance.randbytes(int(40 * chance.random()))
    for _ in range(int(4 * chance.random())):
        at = int(chance.random() * (len(packet) + 1))
        match int(4 * chance.random()):
            case 0:
                packet = packet[:at] + chance.randbytes(1) + packet[at + 1 :]
            case 1:
                packet = packet[:at] + chance.randbytes(2) + packet[at:]
            case 2:
                packet = packet[:at] + packet[at + 1 :]
            case 3:
                packet = packet[:at]
    return packet


def mend(packet: bytes) -> bytes:
    """Another good packet: one bit of its second byte differs, which is a digit or a count in all of them."""
    return packet[:1] + bytes([packet[1] ^ 1]) + packet[2:]


def held_bytes(value: object, depth: int = 0) -> int:
    """Size of an object with what hangs on it, as far down as a decoder's own state goes."""
    held = sys.getsizeof(value)
    if depth < 3 and hasattr(value, "__dict__"):
        held += sum(held_bytes(inner, depth + 1) for inner in vars(value).values())
    return held


def well_formed(reading: Reading) -> bool:
    if reading.quality in (Quality.BAD_FRAME, Quality.LOST, Quality.OVERLOAD, Quality.NOT_A_NUMBER):
        return reading.value is None
    return reading.value is None or abs(reading.value) < float("inf")


@pytest.mark.parametrize("name", DECODERS)
def test_mutated_packets(name: str) -> None:
    make, good = DECODERS[name]
    fed = 0

    @settings(
        max_examples=EXAMPLES, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
    )
    @given(st.randoms(use_true_random=False), st.integers(0, 2**40))
    def feed(chance: random.Random, t_ns: int) -> None:
        nonlocal fed
        decoder = make()
        decoder.feed(good, t_ns)
        before = held_bytes(decoder)
        source = random.Random(chance.getrandbits(64))
        for _ in range(PACKETS_EACH):
            t_ns += int(2e9 * source.random())
            readings = decoder.feed(mutate(good, source), t_ns)
            assert len(readings) <= 64
            assert all(well_formed(reading) for reading in readings)
        fed += PACKETS_EACH
        assert held_bytes(decoder) <= before + 600
        # Two packets that differ, because a counter says nothing of one that repeats the last.
        assert decoder.feed(good, t_ns) + decoder.feed(mend(good), t_ns), (
            "good packets give readings afterwards"
        )

    feed()
    assert fed >= EXAMPLES * PACKETS_EACH
