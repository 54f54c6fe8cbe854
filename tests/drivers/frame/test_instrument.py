"""A segment meter on a real line: what its function is, in words, reaches the status."""

from __future__ import annotations

import asyncio

from daq.driver_api import Quality, SystemClock
from drivers.frame import DRIVER
from tests.drivers.frame.drawing import segment_frame
from tests.drivers.peers import SILENT, PtyPeer

CARD = next(card for card in DRIVER.cards() if card.name == "segment-meter")


async def test_a_wrong_function_is_told_in_words() -> None:
    with PtyPeer(SILENT) as line:
        async with DRIVER.connect(CARD, line.address, SystemClock()) as meter, asyncio.timeout(30):
            await asyncio.sleep(0.06)  # a line that was quiet so long begins with a whole frame
            line.write(segment_frame("12.34", "DC", "V"))
            (wrong,) = await meter.receive()
            line.write(segment_frame("19.62", "AC", "V"))
            (right,) = await meter.receive()
    assert (wrong.value, wrong.quality) == (12.34, Quality.WRONG_FUNCTION)
    assert (right.value, right.quality) == (19.62, Quality.GOOD)
    assert meter.status.remarks == [
        "The meter is on DC volts, but AC volts (V~) are due: turn it to AC volts (V~)."
    ]
