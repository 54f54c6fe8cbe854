"""From a card to the characteristics that are needed, and to a decoder for each of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, Protocol

from daq.driver_api import CardError, ChannelCard, Decoder, InstrumentCard, Quality, Quantity
from drivers.card_settings import card_fault
from drivers.gatt.counts import CountsDecoder
from drivers.gatt.known import KNOWN
from drivers.gatt.numbers import NUMBER_FORMATS, Number
from drivers.gatt.presentation import parse_presentation_format
from drivers.gatt.settings import GattSettings, GattText, GattValue
from drivers.gatt.text_lines import TextPacketsDecoder
from drivers.gatt.uuids import full_uuid, named_uuid, short_uuid
from drivers.gatt.values import Place, ValuesDecoder

__all__ = ["PacketDecoder", "Source", "Wanted", "decoder_for", "plan_sources"]


class PacketDecoder(Decoder, Protocol):
    """A decoder that is fed packet by packet.

    Attributes:
        needs: the length of a packet in words.
        awaited: what is due besides a packet, in words; empty where a packet is all it takes.
    """

    needs: str
    awaited: str

    def resync(self) -> None:
        """Packets were lost here."""
        ...


class Wanted(NamedTuple):
    """A channel of the card, and how its value is found."""

    channel: int
    card: ChannelCard
    value: GattValue


class Source(NamedTuple):
    """One characteristic to subscribe to."""

    uuid: str
    service: str | None
    wanted: tuple[Wanted, ...] = ()
    text: GattText | None = None

    @property
    def poll_s(self) -> float | None:
        """How often it is read where it sends nothing by itself; None where the card does not say."""
        given = [wanted.value.poll_s for wanted in self.wanted if wanted.value.poll_s is not None]
        return min(given, default=None)

    @property
    def needs_descriptor(self) -> bool:
        """Whether the device itself has to say how the bytes are read."""
        return any(_described_by_device(wanted.value) for wanted in self.wanted)

    @property
    def channels(self) -> tuple[int, ...]:
        """Channels that come out of it; for text, all the card has."""
        return tuple(wanted.channel for wanted in self.wanted)


def plan_sources(card: InstrumentCard, settings: GattSettings) -> tuple[Source, ...]:
    """The characteristics that a card needs, each once."""
    text = settings.text
    if text is not None:
        return (Source(text.uuid, _full_or_none(text.service), text=text),)
    grouped: dict[tuple[str, str | None], list[Wanted]] = {}
    for n, (channel, value) in enumerate(zip(card.channel, settings.value, strict=True)):
        key = (value.uuid, _full_or_none(value.service))
        grouped.setdefault(key, []).append(Wanted(n, channel, value))
    return tuple(Source(*key, wanted=tuple(wanted)) for key, wanted in grouped.items())


def decoder_for(card: InstrumentCard, source: Source, descriptor: bytes | None) -> PacketDecoder:
    """The decoder of one characteristic's packets.

    Args:
        card: checked before.
        source: one of :func:`plan_sources`.
        descriptor: the Presentation Format as the device gave it, or None where it has none.

    Raises:
        CardError: the device does not say how the bytes are to be read, or what it says does not fit.
    """
    if source.text is not None:
        return TextPacketsDecoder(card, source.text)
    counts = [wanted for wanted in source.wanted if wanted.value.is_csc]
    if counts:
        return _counter(counts)
    return ValuesDecoder([_place(card, wanted, descriptor) for wanted in source.wanted])


def _counter(counts: list[Wanted]) -> CountsDecoder:
    by_quantity = {wanted.card.quantity: wanted for wanted in counts}
    revolutions = by_quantity[Quantity.REVOLUTIONS]
    device_time = by_quantity.get(Quantity.DEVICE_TIME)
    return CountsDecoder(
        revolutions.channel,
        None if device_time is None else device_time.channel,
        revolutions.card.marks_per_revolution or 1,
        revolutions.value.counter,
        revolutions.value.most_rpm,
    )


def _place(card: InstrumentCard, wanted: Wanted, descriptor: bytes | None) -> Place:
    channel, value = wanted.card, wanted.value
    if value.format is not None:
        size = NUMBER_FORMATS[value.format].size
        return Place(wanted.channel, channel, _by_card(value), size, value.offset, value.length)
    known = KNOWN.get(short_uuid(value.uuid) or 0)
    if known is not None:
        ignored = channel.quantity is Quantity.ROTATIONAL_SPEED and value.direction == "ignored"
        return Place(wanted.channel, channel, known.read, known.size, 0, known.size, ignored)
    return _by_descriptor(card, wanted, descriptor)


def _by_card(value: GattValue) -> Callable[[bytes], Number]:
    read_number = NUMBER_FORMATS[value.format or ""].read

    def read(data: bytes) -> Number:
        number = read_number(data if value.byte_order == "little" else data[::-1], 0)
        if number.value is not None and number.value == value.not_known:
            return Number(None, Quality.NOT_A_NUMBER)
        return number

    return read


def _by_descriptor(card: InstrumentCard, wanted: Wanted, descriptor: bytes | None) -> Place:
    name = named_uuid(wanted.value.uuid)
    described = None if descriptor is None else parse_presentation_format(descriptor)
    if described is None:
        raise _not_described(card, name, descriptor)
    if not described.fits(wanted.card.quantity):
        raise card_fault(
            card,
            f"the instrument says that {name} is in {described.unit_name}, which is no "
            f"{wanted.card.quantity.value.replace('_', ' ')}: take a card for that quantity, or give `format` "
            "in a copy of this card if the instrument is mistaken",
        )
    return Place(wanted.channel, wanted.card, described.read, described.size, 0, described.size)


def _not_described(card: InstrumentCard, name: str, descriptor: bytes | None) -> CardError:
    says = (
        "carries no Presentation Format descriptor"
        if descriptor is None
        else f"carries a Presentation Format that is no single number (bytes {descriptor.hex(' ')})"
    )
    return card_fault(
        card,
        f"{name} {says}, so its bytes can't be read: give `format` (and `offset`) in [[settings.value]], "
        "or [settings.text] if it sends text",
    )


def _described_by_device(value: GattValue) -> bool:
    return value.format is None and not value.is_csc and (short_uuid(value.uuid) or 0) not in KNOWN


def _full_or_none(uuid: str | None) -> str | None:
    return None if uuid is None else full_uuid(uuid)
