"""Bluetooth LE at length: 50 notifications a second for 30 s, and what the decoders cost.

``python -m tests.benchmarks.ble_notify [SECONDS [RATE]]``

The real bleak and the real driver, but against an imitation of BlueZ's bus
interface: nothing here says how a radio does. The suite runs 2 s of it.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
import time
from pathlib import Path

from daq.driver_api import Reading, SystemClock
from drivers.gatt.counts import CountsDecoder
from drivers.gatt.driver import DRIVER
from drivers.gatt.settings import parse_settings
from drivers.gatt.sources import PacketDecoder, decoder_for, plan_sources
from tests.drivers.gatt.devices import TACH, tach
from tests.drivers.gatt.rig import Rig

PACKETS = 100_000
LARGEST_SHARE = 0.25
"""Of one core, for 10,000 readings a second."""


async def notify(seconds: float, rate: float) -> bool:
    """Receive that long through the gatt driver; True where every packet sent came, in order."""
    card = next(card for card in DRIVER.cards() if card.name == "ble-speed")
    wanted = round(seconds * rate)
    with tempfile.TemporaryDirectory() as folder:
        async with Rig(Path(folder)) as rig:
            os.environ["DBUS_SYSTEM_BUS_ADDRESS"] = rig.address
            await rig.device(tach(rate=rate))
            got: list[Reading] = []
            cpu_s = time.process_time()
            async with DRIVER.connect(card, f"ble:{TACH}", SystemClock()) as instrument:
                while len(got) < wanted:
                    got += await instrument.receive()
                cpu_s = time.process_time() - cpu_s
    in_order = [reading.value for reading in got[:wanted]] == [float(n) for n in range(wanted)]
    gaps_ms = [(b.t_ns - a.t_ns) / 1e6 for a, b in zip(got, got[1:], strict=False)]
    print(
        f"{len(got[:wanted])} of {wanted} notifications, {'in order' if in_order else 'NOT IN ORDER'}, "
        f"{rate:g} a second for {seconds:g} s; largest gap {max(gaps_ms):.1f} ms; {cpu_s:.2f} s of one core"
    )
    return in_order


def known(name: str) -> PacketDecoder:
    """The decoder of a built-in card."""
    card = next(card for card in DRIVER.cards() if card.name == name)
    (source,) = plan_sources(card, parse_settings(card))
    return decoder_for(card, source, None)


def decoder_cost(name: str, decoder: PacketDecoder | CountsDecoder, packets: list[bytes]) -> bool:
    """Feed packets at 10,000 a second of their own time; True where that takes no more than a quarter of a core."""
    cpu_s = time.process_time()
    readings = sum(len(decoder.feed(packet, n * 100_000)) for n, packet in enumerate(packets))
    cpu_s = time.process_time() - cpu_s
    share = cpu_s / readings * 10_000
    print(
        f"{name}: {readings} readings from {len(packets)} packets; 10,000 a second take {share:.1%} of one core"
    )
    return share <= LARGEST_SHARE


def main() -> int:
    """Run all; the exit status is 0 when every figure was met."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 30.0
    rate = float(sys.argv[2]) if len(sys.argv) > 2 else 50.0
    met = [
        decoder_cost("ble-speed", known("ble-speed"), [n.to_bytes(4, "little") for n in range(PACKETS)]),
        decoder_cost(
            "ble-volts", known("ble-volts"), [(n % 65_000).to_bytes(2, "little") for n in range(PACKETS)]
        ),
        decoder_cost("ble-revolutions", known("ble-revolutions"), [_wheel(n) for n in range(PACKETS)]),
        asyncio.run(notify(seconds, rate)),
    ]
    return 0 if all(met) else 1


def _wheel(n: int) -> bytes:
    return b"\x01" + n.to_bytes(4, "little") + (16 * n % 65_536).to_bytes(2, "little")


if __name__ == "__main__":
    sys.exit(main())
