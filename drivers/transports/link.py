"""A serial or TCP link to one instrument: a reader thread, a bounded queue, a way to write."""

from __future__ import annotations

import asyncio
import threading

from daq.driver_api import Clock, TransportDefaults, TransportError, TransportReason
from drivers.transports.chunks import MAX_QUEUE_BYTES, Chunk, ChunkQueue
from drivers.transports.endpoint import Endpoint, open_endpoint
from drivers.transports.faults import foreign_exceptions, link_lost, open_failed
from drivers.transports.returned import Adapters

__all__ = ["SerialLink"]

_ADAPTERS = Adapters()
"""What this process has had open; a link is made anew for each try."""
_CLOSE_WITHIN_S = 0.9
_WRITE_WITHIN_S = 1.0
_WRITE_RETRY_S = 0.02


class SerialLink:
    """Opens, reads, writes and closes a pyserial device or URL.

    One thread does all that can block: it opens the port, reads it, stamps
    the bytes with the clock the moment they are there, and closes it.
    """

    def __init__(
        self,
        address: str,
        line: TransportDefaults,
        clock: Clock,
        *,
        max_queue_bytes: int = MAX_QUEUE_BYTES,
        adapters: Adapters = _ADAPTERS,
    ) -> None:
        self.address = address
        self.remarks: list[str] = []
        """Sentences about the port, once it is open."""
        self.opened_ns = 0
        """When the port was open, on the clock."""
        self._line = line
        self._clock = clock
        self._max_queue_bytes = max_queue_bytes
        self._adapters = adapters
        self._thread: threading.Thread | None = None
        self._stop = threading.Event()
        self._queue: ChunkQueue | None = None
        self._endpoint: Endpoint | None = None
        self._open_error: TransportError | None = None
        self._opened = asyncio.Event()
        self._ended = asyncio.Event()

    @property
    def bytes_lost(self) -> int:
        """Bytes dropped since opening because the queue was full."""
        return 0 if self._queue is None else self._queue.bytes_lost

    async def open(self) -> None:
        """Open the port.

        Raises:
            TransportError: with its reason; nothing is left open.
        """
        if self._thread is not None:
            raise RuntimeError("a link is opened once")
        loop = asyncio.get_running_loop()
        self._queue = ChunkQueue(loop, self._max_queue_bytes)
        self._thread = threading.Thread(
            target=self._work, args=(loop, self._queue), name=f"port {self.address}", daemon=True
        )
        self._thread.start()
        await self._opened.wait()
        if self._endpoint is None:
            await self.aclose()
            raise self._open_error or open_failed(OSError("its thread has ended"), self.address)

    async def receive(self) -> list[Chunk]:
        """Wait for bytes and take the oldest, a bounded part of them; may be cancelled without losing any.

        Raises:
            TransportError: ``LINK_LOST``, after all that came before was taken.
        """
        if self._queue is None:
            raise RuntimeError("the link is not open")
        return await self._queue.get()

    async def write(self, data: bytes) -> None:
        """Send all of ``data``.

        Raises:
            TransportError: ``LINK_LOST``: the link broke or takes nothing for a second.
        """
        loop = asyncio.get_running_loop()
        deadline = loop.time() + _WRITE_WITHIN_S
        rest = data
        while rest:
            rest = rest[self._write_some(rest) :]
            if rest:
                if loop.time() > deadline:
                    raise TransportError(
                        f"{self.address} takes no data: {len(rest)} bytes could not be sent within "
                        f"{_WRITE_WITHIN_S:g} s. Check the cable and the instrument's flow control.",
                        reason=TransportReason.LINK_LOST,
                        address=self.address,
                    )
                await asyncio.sleep(_WRITE_RETRY_S)

    def _write_some(self, data: bytes) -> int:
        ending = None if self._queue is None else self._queue.ending
        if ending is not None:
            # TCP takes a write for a moment after the other side has gone: what was told lost stays lost.
            raise ending
        if self._endpoint is None:
            raise link_lost(None, self.address)
        try:
            return self._endpoint.write_some(data)
        except foreign_exceptions() as error:
            raise link_lost(error, self.address) from error

    async def aclose(self) -> None:
        """Close within a second; any number of times.

        A TCP connection still being set up can't be called off: its thread
        ends by itself when the attempt does, 5 s after its start.
        """
        self._stop.set()
        thread = self._thread
        if thread is None:
            return
        try:
            async with asyncio.timeout(_CLOSE_WITHIN_S):
                await self._ended.wait()
        except TimeoutError:
            return
        thread.join(0.05)

    def _work(self, loop: asyncio.AbstractEventLoop, queue: ChunkQueue) -> None:
        try:
            endpoint = self._open_endpoint()
            _tell(loop, self._opened)
            if endpoint is not None:
                self._read_until_stopped(endpoint, queue)
        finally:
            # Whatever happened, nobody is left waiting.
            _tell(loop, self._opened)
            queue.end(link_lost(None, self.address))
            _tell(loop, self._ended)

    def _open_endpoint(self) -> Endpoint | None:
        try:
            endpoint = self._find_and_open()
        except TransportError as error:
            self._open_error = error
            return None
        except Exception as error:  # noqa: BLE001 - a named border: pyserial's URL helpers may fail in any way
            self._open_error = open_failed(error, self.address)
            self._open_error.__cause__ = error
            return None
        self.opened_ns = self._clock.now_ns()
        self._endpoint = endpoint
        return endpoint

    def _find_and_open(self) -> Endpoint:
        if "://" in self.address:
            return open_endpoint(self.address, self._line)
        device = self._adapters.device(self.address)
        endpoint = open_endpoint(device, self._line)
        try:
            self._adapters.opened(self.address, device)
        except TransportError:
            endpoint.close()
            raise
        if device != self.address:
            self.remarks.append(
                f"The adapter that was {self.address} has come back as {device} and is read there."
            )
        return endpoint

    def _read_until_stopped(self, endpoint: Endpoint, queue: ChunkQueue) -> None:
        now_ns, stopped = self._clock.now_ns, self._stop.is_set
        try:
            while not stopped():
                data = endpoint.read()
                if data:
                    queue.put(data, now_ns())
            queue.end(link_lost(None, self.address))
        except foreign_exceptions() as error:
            queue.end(link_lost(error, self.address))
        finally:
            endpoint.close()


def _tell(loop: asyncio.AbstractEventLoop, event: asyncio.Event) -> None:
    try:
        loop.call_soon_threadsafe(event.set)
    except RuntimeError:
        # The loop was closed while a connection attempt was still under way.
        return
