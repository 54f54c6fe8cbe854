"""The I/O around the decoders: connects, finds the card's characteristics, feeds what they send."""

from __future__ import annotations

from collections.abc import Sequence

from daq.driver_api import (
    Instrument,
    InstrumentCard,
    InstrumentStatus,
    Quality,
    Reading,
    TransportError,
    TransportReason,
)
from drivers.card_settings import card_fault
from drivers.gatt.sources import PacketDecoder, Source, decoder_for
from drivers.gatt.uuids import PRESENTATION_FORMAT, full_uuid, named_uuid
from drivers.transports.ble import BleLink, Offer
from drivers.transports.packets import Packet

__all__ = ["GattInstrument"]

_LAST_BYTES = 64
_PRESENTATION = full_uuid(f"{PRESENTATION_FORMAT:04X}")


class GattInstrument(Instrument):
    """One device, with one subscription for each characteristic that the card needs."""

    def __init__(self, card: InstrumentCard, sources: Sequence[Source], link: BleLink) -> None:
        names = " and ".join(named_uuid(source.uuid) for source in sources)
        self._packet_awaited = f"a packet of {names}"
        self.status = InstrumentStatus(awaited=self._packet_awaited, remarks=[])
        self._card = card
        self._sources = tuple(sources)
        self._link = link
        self._decoders: list[PacketDecoder] = []
        self._bad_packets = 0
        self._ended: TransportError | None = None

    async def open(self) -> None:
        try:
            offers = await self._link.open()
            chosen = [self._choose(source, offers) for source in self._sources]
            # All decoders first: once subscribed, packets come.
            for source, offer in zip(self._sources, chosen, strict=True):
                self._decoders.append(decoder_for(self._card, source, await self._descriptor(source, offer)))
            for n, (source, offer) in enumerate(zip(self._sources, chosen, strict=True)):
                if offer.notifies or source.poll_s is None:
                    await self._link.subscribe(offer, n)
                else:
                    await self._link.poll(offer, n, source.poll_s)
        except BaseException:
            await self._link.aclose()
            raise
        self.status.remarks += self._link.remarks

    async def receive(self) -> list[Reading]:
        while True:
            if self._ended is not None:
                raise self._ended
            try:
                packets = await self._link.receive()
            except TransportError as error:
                self._ended = error
                readings = [reading for decoder in self._decoders for reading in decoder.flush()]
            else:
                readings = [reading for packet in packets for reading in self._take(packet)]
            if readings:
                self.status.bad_frames += sum(r.quality is Quality.BAD_FRAME for r in readings)
                return readings

    async def aclose(self) -> None:
        await self._link.aclose()

    def _choose(self, source: Source, offers: Sequence[Offer]) -> Offer:
        name = named_uuid(source.uuid)
        same = [offer for offer in offers if offer.uuid == source.uuid]
        same = [offer for offer in same if source.service in (None, offer.service)]
        if not same:
            listed = ", ".join(dict.fromkeys(named_uuid(offer.uuid) for offer in offers)) or "nothing"
            raise self._unfit(
                f"{self._link.who} doesn't offer {name}. It offers: {listed}. Take a card that fits."
            )
        if len(same) > 1:
            services = ", ".join(offer.service for offer in same)
            raise card_fault(
                self._card,
                f"{self._link.who} has {name} more than once: give `service` in a copy of the card, one of {services}",
            )
        self._check_way(same[0], source, name)
        return same[0]

    def _check_way(self, offer: Offer, source: Source, name: str) -> None:
        if offer.notifies or (offer.reads and source.poll_s is not None):
            return
        if offer.reads:
            raise self._unfit(
                f"{self._link.who} doesn't send {name} by itself, it only lets it be read: put poll_s, the seconds "
                "from one reading to the next, into [[settings.value]] of a copy of the card."
            )
        raise self._unfit(
            f"{self._link.who} neither sends {name} nor lets it be read. Take a card that fits."
        )

    async def _descriptor(self, source: Source, offer: Offer) -> bytes | None:
        handle = offer.descriptors.get(_PRESENTATION)
        return await self._link.descriptor(handle) if source.needs_descriptor and handle is not None else None

    def _unfit(self, text: str) -> TransportError:
        return TransportError(text, reason=TransportReason.OTHER, address=self._link.address)

    def _take(self, packet: Packet) -> list[Reading]:
        status, decoder = self.status, self._decoders[packet.source]
        status.bytes_received += len(packet.data)
        status.bytes_lost += packet.bytes_lost_before
        status.last_bytes = (status.last_bytes + packet.data)[-_LAST_BYTES:]
        readings: list[Reading] = []
        if packet.lost_before:
            # Whose packets were dropped is not known, so all channels are told.
            for each in self._decoders:
                each.resync()
            channels = range(len(self._card.channel))
            readings += [Reading(n, packet.t_ns, None, Quality.LOST) for n in channels]
        decoded = decoder.feed(packet.data, packet.t_ns)
        status.awaited = decoder.awaited or self._packet_awaited
        if any(reading.quality is Quality.BAD_FRAME for reading in decoded):
            self._remark_bad(packet, decoder)
        if any(reading.quality is Quality.LOST for reading in decoded):
            self.status.remarks.append(
                f"{self._link.who} counts anew: it was off for a moment, or silent for too long."
            )
        return readings + decoded

    def _remark_bad(self, packet: Packet, decoder: PacketDecoder) -> None:
        """Tell of the 1st, 10th, 100th, ...: a device that sends nothing else would fill the recording."""
        self._bad_packets += 1
        if self._bad_packets == 10 ** (len(str(self._bad_packets)) - 1):
            name = named_uuid(self._sources[packet.source].uuid)
            self.status.remarks.append(
                f"Skipped a packet of {len(packet.data)} bytes from {self._link.who}: {name} needs {decoder.needs} "
                f"({self._bad_packets} so far)."
            )
