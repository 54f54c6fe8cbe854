"""A Bluetooth LE link to one instrument, over bleak: find, connect, subscribe, receive, close.

Runs wholly in the event loop. Every call into bleak has a limit in time and
can be called off, because a Bluetooth service that hangs never answers.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
from collections.abc import Coroutine
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from daq.driver_api import Clock, TransportError, TransportReason
from drivers.transports.ble_address import parse_ble_address
from drivers.transports.ble_faults import Doing, ble_failed, ble_lost, ble_silent, foreign_ble_exceptions
from drivers.transports.packets import MOST_PACKETS, Packet, PacketQueue

if TYPE_CHECKING:
    from bleak import BleakClient
    from bleak.backends.characteristic import BleakGATTCharacteristic
    from bleak.backends.device import BLEDevice

__all__ = ["BleLink", "Offer", "quiet_bleak"]

FIND_WITHIN_S = 10.0
CONNECT_WITHIN_S = 10.0
_ANSWER_WITHIN_S = 5.0
_CALL_OFF_WITHIN_S = 0.4
_CLOSE_WITHIN_S = 0.8
T = TypeVar("T")


class Offer(NamedTuple):
    """A characteristic that the instrument has."""

    handle: int
    uuid: str
    service: str
    notifies: bool
    reads: bool
    descriptors: dict[str, int]
    """Handle by UUID."""


def quiet_bleak() -> None:
    """Keep bleak's log lines off standard error; whoever sets up logging still gets them."""
    logging.getLogger("bleak").addHandler(logging.NullHandler())


class BleLink:
    """One connection; opened once.

    Args:
        address: ``ble:`` and the device's address or ``name=``.
        clock: stamps and the silence limit come from it.
        silence_s: nothing for this long counts as a lost link, because the
            system may hold a silent device for connected for ever.
        adapter: such as hci1; None for the first that is switched on.
        find_s: how long to look for it.
        connect_s: how long connecting may take.
        most_packets: how many may wait to be taken.
    """

    def __init__(
        self,
        address: str,
        clock: Clock,
        *,
        silence_s: float,
        adapter: str | None = None,
        find_s: float | None = None,
        connect_s: float | None = None,
        most_packets: int | None = None,
    ) -> None:
        self.address = address
        self.packets = 0
        """Packets received, those that were dropped included."""
        self.remarks: list[str] = []
        self._wanted = parse_ble_address(address)
        self.who = self._wanted.words
        """The instrument in words."""
        self._clock = clock
        self._silence_s = silence_s
        self._bluez: Any = {} if adapter is None else {"adapter": adapter}
        self._find_s = FIND_WITHIN_S if find_s is None else find_s
        self._connect_s = CONNECT_WITHIN_S if connect_s is None else connect_s
        self._queue = PacketQueue(MOST_PACKETS if most_packets is None else most_packets)
        self._client: BleakClient | None = None
        self._characteristics: dict[int, BleakGATTCharacteristic] = {}
        self._up = False
        self._closing = False
        self._heard_ns = 0
        self._polls: list[asyncio.Task[None]] = []

    @property
    def packets_lost(self) -> int:
        """Packets dropped because the queue was full."""
        return self._queue.packets_lost

    async def open(self) -> list[Offer]:
        """Find the instrument and connect; gives what it offers.

        Raises:
            TransportError: with its reason; call :meth:`aclose` then too.
        """
        quiet_bleak()
        device = await self._within(self._find_s + _ANSWER_WITHIN_S, Doing.SEARCH, self._find())
        if device is None:
            raise TransportError(
                f"{self.who} was not seen within {self._find_s:g} s. Is it on, near, and not connected to a phone?",
                reason=TransportReason.NOT_FOUND,
                address=self.address,
            )
        self.who = f"{device.name} ({device.address})" if device.name else device.address
        await self._within(self._connect_s, Doing.CONNECT, self._connect(device))
        self._heard_ns = self._clock.now_ns()
        return self._offers()

    async def descriptor(self, handle: int) -> bytes:
        """Read a descriptor."""
        return bytes(
            await self._within(_ANSWER_WITHIN_S, Doing.READ, self._open_client().read_gatt_descriptor(handle))
        )

    async def subscribe(self, offer: Offer, source: int) -> None:
        """Ask for a characteristic's notifications; they come out of :meth:`receive` marked ``source``."""

        def arrived(_: BleakGATTCharacteristic, data: bytearray) -> None:
            self._arrived(source, data)

        characteristic = self._characteristics[offer.handle]
        await self._within(
            _ANSWER_WITHIN_S, Doing.SUBSCRIBE, self._open_client().start_notify(characteristic, arrived)
        )
        self._heard_ns = max(self._heard_ns, self._clock.now_ns())

    async def poll(self, offer: Offer, source: int, every_s: float) -> None:
        """Read a characteristic now and then every so often; its values come out of :meth:`receive`.

        Answers are stamped when they come, which is up to the radio; a read that fails ends the link.
        """
        characteristic = self._characteristics[offer.handle]
        await self._read(characteristic, source)
        self._polls.append(asyncio.ensure_future(self._keep_reading(characteristic, source, every_s)))

    async def _keep_reading(
        self, characteristic: BleakGATTCharacteristic, source: int, every_s: float
    ) -> None:
        due_ns = self._clock.now_ns()
        try:
            while True:
                due_ns = max(due_ns + round(every_s * 1e9), self._clock.now_ns())
                await self._clock.sleep((due_ns - self._clock.now_ns()) / 1e9)
                await self._read(characteristic, source)
        except TransportError as error:
            if not self._closing:
                lost = ble_lost(self.who, self.address, self.packets)
                lost.__cause__ = error
                self._queue.end(lost)

    async def _read(self, characteristic: BleakGATTCharacteristic, source: int) -> None:
        client = self._open_client()
        data = await self._within(_ANSWER_WITHIN_S, Doing.POLL, client.read_gatt_char(characteristic))
        self._arrived(source, data)

    def _arrived(self, source: int, data: bytearray) -> None:
        self._heard_ns = t_ns = self._clock.now_ns()
        self.packets += 1
        self._queue.put(source, bytes(data), t_ns)

    async def receive(self) -> list[Packet]:
        """Wait for packets and take all there are; may be cancelled without losing any.

        Raises:
            TransportError: ``LINK_LOST``, after all that came before was taken, or after the silence limit.
        """
        while True:
            taken = self._queue.take()
            if taken:
                return taken
            left_s = self._silence_s - (self._clock.now_ns() - self._heard_ns) / 1e9
            if left_s <= 0:
                self._queue.end(ble_silent(self.who, self.address, self._silence_s))
                continue
            # Not wait_for: before Python 3.12 it swallows a cancellation that meets arriving bytes.
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(left_s):
                    await self._queue.wait()

    async def aclose(self) -> None:
        """Close within a second; any number of times. What the system says about it is of no interest any more."""
        self._closing = True
        polls, self._polls = self._polls, []
        for poll in polls:
            poll.cancel()
        client, self._client = self._client, None
        if client is not None:
            with contextlib.suppress(TransportError):
                await self._within(_CLOSE_WITHIN_S - _CALL_OFF_WITHIN_S, Doing.CONNECT, client.disconnect())
        if polls:
            await asyncio.wait(polls, timeout=_CLOSE_WITHIN_S)

    async def _find(self) -> BLEDevice | None:
        from bleak import BleakScanner

        wanted = self._wanted
        seen = await BleakScanner.find_device_by_filter(
            lambda device, advertised: wanted.matches(device.address, device.name, advertised.local_name),
            timeout=self._find_s,
            bluez=self._bluez,
        )
        # Only then, for what bleak remembers as connected may be long gone with a Bluetooth service that died.
        return seen or await self._find_connected()

    async def _find_connected(self) -> BLEDevice | None:
        """A device that a crashed program left connected does not show up in a scan."""
        from bleak import BleakAdapter

        try:
            adapter = await BleakAdapter.get(bluez=self._bluez)
            devices = await adapter.get_connected_devices()
        except NotImplementedError:
            return None
        for device in devices:
            if self._wanted.matches(device.address, device.name):
                self.remarks.append(
                    f"{self.who} was connected to this computer already; if another program uses it, "
                    "either may end the link of both."
                )
                return device
        return None

    async def _connect(self, device: BLEDevice) -> None:
        from bleak import BleakClient

        self._client = client = BleakClient(
            device, self._disconnected, timeout=self._connect_s, bluez=self._bluez
        )
        await client.connect()
        self._up = True

    def _disconnected(self, _: BleakClient) -> None:
        # bleak calls it for our own closing too, and while it tries to connect again by itself.
        if self._up and not self._closing:
            self._queue.end(ble_lost(self.who, self.address, self.packets))

    def _offers(self) -> list[Offer]:
        try:
            found = dict(self._open_client().services.characteristics)
        except foreign_ble_exceptions() as error:
            raise ble_failed(error, self.who, self.address, Doing.CONNECT) from error
        self._characteristics = found
        return [
            Offer(
                handle,
                characteristic.uuid.lower(),
                characteristic.service_uuid.lower(),
                bool({"notify", "indicate"} & set(characteristic.properties)),
                "read" in characteristic.properties,
                {descriptor.uuid.lower(): descriptor.handle for descriptor in characteristic.descriptors},
            )
            for handle, characteristic in sorted(found.items())
        ]

    def _open_client(self) -> BleakClient:
        if self._client is None:
            raise RuntimeError("the link is not open")
        return self._client

    async def _within(self, limit_s: float, doing: Doing, work: Coroutine[Any, Any, T]) -> T:
        """Await ``work`` no longer than ``limit_s``, with its exceptions as ours.

        A task of its own: bleak goes on waiting for the bus while it is being
        cancelled, and a bus that hangs must not hold us.
        """
        task = asyncio.ensure_future(work)
        task.add_done_callback(_retrieve)
        try:
            await asyncio.wait({task}, timeout=limit_s)
        finally:
            if not task.done():
                task.cancel()
                await asyncio.wait({task}, timeout=_CALL_OFF_WITHIN_S)
        try:
            if not task.done() or task.cancelled():
                raise TimeoutError
            return task.result()
        except foreign_ble_exceptions() as error:
            raise ble_failed(error, self.who, self.address, doing, limit_s=limit_s) from error


def _retrieve(task: asyncio.Task[Any]) -> None:
    """Look at the outcome of work that was given up, so that asyncio does not complain of it later."""
    if not task.cancelled():
        task.exception()
