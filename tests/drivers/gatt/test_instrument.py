"""The gatt driver end to end over the real bleak, against an imitation of BlueZ on a private bus; not a radio."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from daq.driver_api import (
    CardError,
    Instrument,
    InstrumentCard,
    Quality,
    Reading,
    SystemClock,
    TransportError,
    TransportReason,
    UsageError,
    parse_instrument_card,
)
from drivers.gatt.driver import DRIVER
from drivers.gatt.instrument import GattInstrument
from tests.drivers.gatt.devices import (
    COUNTER,
    CSC_UUID,
    FORMAT_UUID,
    METER,
    OWN_SERVICE,
    OWN_VALUE,
    SPEED_UUID,
    TACH,
    VOLTS_UUID,
    counter,
    device,
    meter,
    tach,
)
from tests.drivers.gatt.rig import Rig

HEAD = 'name = "own"\ntitle = "Own"\nprotocol = "gatt"\nsilence_s = 3.0\n'
VOLTS = '[[channel]]\nquantity = "ac_voltage"\n'
OWN = f'[[settings.value]]\ncharacteristic = "{OWN_VALUE}"\n'


@pytest.fixture(autouse=True)
def quick_search(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("drivers.transports.ble.FIND_WITHIN_S", 10.0)


def built_in(name: str) -> InstrumentCard:
    return next(card for card in DRIVER.cards() if card.name == name)


def own_card(text: str) -> InstrumentCard:
    card = parse_instrument_card(HEAD + text, origin="test")
    DRIVER.check(card)
    return card


def instrument(card: InstrumentCard, address: str) -> Instrument:
    return DRIVER.connect(card, f"ble:{address}", SystemClock())


async def readings_of(card: InstrumentCard, address: str, least: int) -> list[Reading]:
    got: list[Reading] = []
    async with instrument(card, address) as opened:
        while len(got) < least:
            got += await opened.receive()
    return got


async def end_of(opened: Instrument) -> TransportError:
    while True:
        try:
            await opened.receive()
        except TransportError as error:
            return error


async def test_speed_card(bluez: Rig) -> None:
    await bluez.device(tach(rate=100.0))
    got = await readings_of(built_in("ble-speed"), TACH, 20)
    assert [r.value for r in got] == [float(n) for n in range(len(got))]
    assert {(r.channel, r.quality) for r in got} == {(0, Quality.GOOD)}


async def test_volts_card_with_values_that_are_none(bluez: Rig) -> None:
    await bluez.device(meter("4003", "ffff", "81ff", "c004", rate=100.0))
    got = await readings_of(built_in("ble-volts"), METER, 4)
    assert [(r.value, r.quality) for r in got[:4]] == [
        (13.0, Quality.GOOD),
        (None, Quality.NOT_A_NUMBER),
        (None, Quality.OVERLOAD),
        (19.0, Quality.GOOD),
    ]


async def test_revolutions_card_through_both_wraps(bluez: Rig) -> None:
    """The device's clock wraps after 1.5 s and its count after 16 turns."""
    await bluez.device(counter(rpm=3000.0, rate=20.0))
    got = await readings_of(built_in("ble-revolutions"), COUNTER, 90)
    turns = [r for r in got if r.channel == 0]
    times = [r for r in got if r.channel == 1]
    assert len(turns) >= 45
    assert {r.quality for r in got} == {Quality.GOOD}
    assert [r.t_ns for r in turns] == [r.t_ns for r in times]
    first, last = (turns[0].value, times[0].value), (turns[-1].value, times[-1].value)
    assert first == (0.0, 0.0)
    assert last[0] is not None
    assert last[1] is not None
    assert last[1] > 1.6
    # One tick of 1/1024 s at either end.
    assert 60.0 * last[0] / last[1] == pytest.approx(3000.0, rel=2 / (1024 * last[1]))


async def test_a_described_characteristic_is_read_by_its_descriptor(bluez: Rig) -> None:
    described = {
        "uuid": OWN_VALUE,
        "rate": 100.0,
        "values": ["a44c"],
        "descriptors": {FORMAT_UUID: "06fd2827010000"},
    }
    await bluez.device(device(METER, "Bench meter", OWN_SERVICE, described))
    got = await readings_of(own_card(OWN + VOLTS), METER, 3)
    assert {r.value for r in got} == {19.62}
    assert await bluez.calls("ReadValue") == 1


async def test_a_descriptor_that_does_not_fit_refuses_the_card(bluez: Rig) -> None:
    described = {"uuid": OWN_VALUE, "descriptors": {FORMAT_UUID: "06fda827010000"}}
    await bluez.device(device(METER, "Bench meter", OWN_SERVICE, described))
    with pytest.raises(CardError, match="revolution per minute, which is no ac voltage"):
        await instrument(own_card(OWN + VOLTS), METER).open()
    assert await bluez.calls("Disconnect") == 1


async def test_text_over_notifications(bluez: Rig) -> None:
    pieces = {
        "uuid": OWN_VALUE,
        "rate": 100.0,
        "values": [part.encode().hex() for part in ("AC 19", ".62 V\r", "\n")],
    }
    await bluez.device(device(METER, "Bench meter", OWN_SERVICE, pieces))
    card = own_card(f'[settings.text]\ncharacteristic = "{OWN_VALUE}"\n' + VOLTS)
    got = await readings_of(card, METER, 3)
    assert {(r.value, r.quality) for r in got} == {(19.62, Quality.GOOD)}


async def test_volts_and_speed_of_one_device_share_its_link(bluez: Rig) -> None:
    both = (
        {"uuid": VOLTS_UUID, "rate": 50.0, "values": ["4003"]},
        {"uuid": SPEED_UUID, "rate": 50.0, "values": ["100e0000"]},
    )
    await bluez.device(device(METER, "Bench pair", OWN_SERVICE, *both))
    values = '[[settings.value]]\ncharacteristic = "0x2B18"\n[[settings.value]]\ncharacteristic = "0x2C09"\n'
    card = own_card(values + VOLTS + '[[channel]]\nquantity = "rotational_speed"\n')
    got = await readings_of(card, METER, 10)
    assert {(r.channel, r.value) for r in got} == {(0, 13.0), (1, 3600.0)}
    assert await bluez.calls("Connect") == 1


async def test_malformed_packets_are_flagged_counted_and_told(bluez: Rig) -> None:
    await bluez.device(meter(rate=0.01))
    opened = instrument(built_in("ble-volts"), METER)
    await opened.open()
    for data in ("40", "", "400300", *["40"] * 8, "4003"):
        await bluez.send(METER, VOLTS_UUID, bytes.fromhex(data))
    got: list[Reading] = []
    while len(got) < 12:
        got += await opened.receive()
    await opened.aclose()
    assert [r.quality for r in got] == [Quality.BAD_FRAME] * 11 + [Quality.GOOD]
    assert all(r.value is None for r in got[:11])
    assert opened.status.bad_frames == 11
    assert opened.status.last_bytes[-2:] == bytes.fromhex("4003")
    told = f"Skipped a packet of 1 bytes from Bench meter ({METER}): Voltage (0x2B18) needs 2 bytes"
    assert opened.status.remarks == [f"{told} (1 so far).", f"{told} (10 so far)."]


async def test_a_lost_link_is_told_each_time_and_closing_is_no_error(bluez: Rig) -> None:
    await bluez.device(counter(rate=50.0))
    opened = instrument(built_in("ble-revolutions"), COUNTER)
    await opened.open()
    await opened.receive()
    await bluez.drop(COUNTER)
    for _ in range(2):
        assert (await end_of(opened)).reason is TransportReason.LINK_LOST
    await opened.aclose()
    await opened.aclose()


async def test_a_standing_shaft_is_told_in_what_is_awaited(bluez: Rig) -> None:
    still = {"uuid": CSC_UUID, "rate": 50.0, "values": ["01050000000001"]}
    await bluez.device(device(COUNTER, "Shaft counter", "0x1816", still))
    opened = instrument(built_in("ble-revolutions"), COUNTER)
    await opened.open()
    first = await opened.receive()
    assert [r.value for r in first] == [0.0, 0.0]
    waiting = asyncio.create_task(opened.receive())
    async with asyncio.timeout(30):
        while "the shaft seems to stand" not in opened.status.awaited:  # noqa: ASYNC110 - it sets no event
            await asyncio.sleep(0.01)
    assert not waiting.done()
    waiting.cancel()
    await asyncio.wait([waiting])
    await opened.aclose()


async def test_dropped_packets_are_told_on_every_channel(bluez: Rig, monkeypatch: pytest.MonkeyPatch) -> None:

    monkeypatch.setattr("drivers.transports.ble.MOST_PACKETS", 4)
    await bluez.device(counter(rpm=3000.0, rate=100.0))
    async with instrument(built_in("ble-revolutions"), COUNTER) as opened:
        assert isinstance(opened, GattInstrument)
        while not opened._link.packets_lost:  # noqa: ASYNC110 - nobody reads them, so nothing is set
            await asyncio.sleep(0.02)
        got: list[Reading] = []
        while not any(r.quality is Quality.LOST for r in got):
            got += await opened.receive()
        lost = [(r.channel, r.value) for r in got if r.quality is Quality.LOST]
        assert lost == [(0, None), (1, None)]
        at = next(n for n, r in enumerate(got) if r.quality is Quality.LOST)
        assert [r.value for r in got[at + 2 : at + 4]] == [0.0, 0.0], "the count starts afresh behind a loss"
        assert opened.status.bytes_lost > 0
        assert opened.status.bytes_lost % 7 == 0


@pytest.mark.parametrize(
    ("characteristics", "error", "says"),
    [
        (
            [{"uuid": SPEED_UUID}],
            TransportError,
            "doesn't offer Voltage (0x2B18). It offers: Rotational Speed (0x2C09)",
        ),
        ([], TransportError, "It offers: nothing"),
        ([{"uuid": VOLTS_UUID, "flags": ["read"]}], TransportError, "only lets it be read"),
        ([{"uuid": VOLTS_UUID}, {"uuid": VOLTS_UUID}], CardError, "more than once: give `service`"),
    ],
)
async def test_a_device_that_the_card_does_not_fit(
    bluez: Rig, characteristics: list[dict[str, Any]], error: type[Exception], says: str
) -> None:
    await bluez.device(device(METER, "Bench meter", OWN_SERVICE, *characteristics))
    opened = instrument(built_in("ble-volts"), METER)
    with pytest.raises(error) as caught:
        await opened.open()
    assert says in str(caught.value)
    assert await bluez.calls("Disconnect") == 1, "it must not be left connected"


async def test_in_reach(bluez: Rig) -> None:
    await bluez.device(counter(rssi=-40))
    await bluez.device(meter(rssi=-60))
    await bluez.device(device(TACH, "", "0x180F", rssi=-80))
    found = await DRIVER.discover(0.2)
    assert [(f.address, f.name, f.signal_dbm, f.cards) for f in found] == [
        (f"ble:{COUNTER}", "Shaft counter", -40, ("ble-revolutions",)),
        (f"ble:{METER}", "Bench meter", -60, ("ble-speed", "ble-volts")),
        (f"ble:{TACH}", "", -80, ()),
    ]
    assert "Cycling Speed and Cadence (0x1816)" in found[0].details


def test_a_serial_port_is_no_address_for_it() -> None:
    with pytest.raises(UsageError, match="reached by Bluetooth LE"):
        DRIVER.connect(built_in("ble-volts"), "/dev/ttyUSB0", SystemClock())


READ_ONLY = {"uuid": VOLTS_UUID, "flags": ["read"], "values": ["4003", "8003", "c003"]}


def polled_card(every_s: float = 0.05) -> InstrumentCard:
    return own_card(f'[[settings.value]]\ncharacteristic = "0x2B18"\npoll_s = {every_s}\n{VOLTS}')


async def test_what_can_only_be_read_is_read_at_the_cards_pace(bluez: Rig) -> None:
    await bluez.device(device(METER, "Quiet meter", OWN_SERVICE, READ_ONLY))
    got = await readings_of(polled_card(), METER, 7)
    assert [r.value for r in got] == [[13.0, 14.0, 15.0][n % 3] for n in range(len(got))]
    assert await bluez.calls("StartNotify") == 0
    # Turns are counted from the first read, so none comes before its turn however late a busy machine is
    # with the one before; two may then stand close together, which is why no single gap is judged.
    since_first_s = [(r.t_ns - got[0].t_ns) / 1e9 for r in got]
    early = [n for n, since_s in enumerate(since_first_s) if since_s < n * 0.05 - 0.001]
    assert not early, "it is not asked as fast as it answers"


async def test_nothing_is_read_once_it_is_closed(bluez: Rig) -> None:
    await bluez.device(device(METER, "Quiet meter", OWN_SERVICE, READ_ONLY))
    await readings_of(polled_card(), METER, 3)
    asked = await bluez.calls("ReadValue")
    await asyncio.sleep(0.2)  # four turns
    assert await bluez.calls("ReadValue") == asked


async def test_what_notifies_is_not_read_though_the_card_has_a_pace(bluez: Rig) -> None:
    await bluez.device(meter("4003", rate=50.0))
    await readings_of(polled_card(), METER, 5)
    assert (await bluez.calls("StartNotify"), await bluez.calls("ReadValue")) == (1, 0)


async def test_a_read_that_fails_is_a_lost_link(bluez: Rig) -> None:
    await bluez.device(device(METER, "Quiet meter", OWN_SERVICE, READ_ONLY))
    async with instrument(polled_card(), METER) as opened:
        await opened.receive()
        await bluez.silence(METER)
        error = await end_of(opened)
    assert error.reason is TransportReason.LINK_LOST
    assert "Lost Quiet meter" in str(error)


async def test_what_can_be_neither_heard_nor_read_is_refused(bluez: Rig) -> None:
    await bluez.device(device(METER, "Mute meter", OWN_SERVICE, {"uuid": VOLTS_UUID, "flags": ["write"]}))
    with pytest.raises(TransportError, match="neither sends Voltage"):
        await readings_of(polled_card(), METER, 1)


def test_a_pace_of_reading_that_makes_no_sense_is_refused() -> None:
    with pytest.raises(CardError, match="poll_s = 0.0 must be from 0.05 to 60 s"):
        polled_card(0.0)
