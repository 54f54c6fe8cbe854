"""How well a card understands what came. Pure: bytes that have arrived and a decoder in, a score out."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from daq.cards.instrument import InstrumentCard, TransportDefaults
from daq.driver_api import Arrived, Decoder
from daq.finding.entries import Example, Heard
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading

__all__ = ["Tally", "best_first", "heard_bytes"]

_NOT_UNDERSTOOD = {Quality.BAD_FRAME, Quality.LOST}
_MOST = {
    # Beyond this no hand instrument at an engine reads (common practice, no source).
    Quantity.AC_VOLTAGE: 1000.0,
    Quantity.DC_VOLTAGE: 1000.0,
    Quantity.DC_CURRENT: 1000.0,
    Quantity.FREQUENCY: 20_000.0,
    Quantity.ROTATIONAL_SPEED: 30_000.0,
    Quantity.TEMPERATURE: 2000.0,
}


class Tally:
    """Counts the readings that a card gave.

    Attributes:
        bad: frames that were no reading.
        understood: readings the instrument itself gave, good or flagged.
    """

    def __init__(self, card: InstrumentCard) -> None:
        self.bad = 0
        self.understood = 0
        self._card = card
        self._good: Counter[int] = Counter()
        self._flagged: Counter[Quality] = Counter()
        self._newest: dict[int, float] = {}
        self._absurd: dict[int, float] = {}
        self._stamps_ns: list[int] = []

    @property
    def good(self) -> int:
        """Good readings on the channel that gave most."""
        return max(self._good.values(), default=0)

    def add(self, readings: Iterable[Reading]) -> None:
        """Take in what the decoder gave."""
        for reading in readings:
            if reading.quality in _NOT_UNDERSTOOD:
                self.bad += 1
                continue
            self.understood += 1
            if reading.quality is Quality.GOOD and reading.value is not None:
                self._add_good(reading, reading.value)
            else:
                self._flagged[reading.quality] += 1

    def heard(self, share: float, line: TransportDefaults, *, asked: bool = False) -> Heard:
        """The tally as a result."""
        channels = self._card.channel
        return Heard(
            card=self._card.name,
            title=self._card.title,
            line=line,
            line_of_card=line == self._card.transport,
            share=share,
            readings=self.good,
            readings_per_s=self._readings_per_s(),
            examples=tuple(
                Example(channels[n].quantity.value, value, channels[n].quantity.unit)
                for n, value in sorted(self._newest.items())
            ),
            remarks=tuple(self._remarks()),
            asked=asked,
        )

    def _add_good(self, reading: Reading, value: float) -> None:
        self._good[reading.channel] += 1
        self._newest[reading.channel] = value
        if reading.channel == 0 or len(self._good) == 1:
            self._stamps_ns.append(reading.t_ns)
        most = _MOST.get(self._card.channel[reading.channel].quantity)
        if most is not None and abs(value) > most:
            self._absurd[reading.channel] = value

    def _readings_per_s(self) -> float:
        stamps = self._stamps_ns
        if len(stamps) < 2 or stamps[-1] == stamps[0]:
            return 0.0
        return (len(stamps) - 1) * 1e9 / (stamps[-1] - stamps[0])

    def _remarks(self) -> Iterable[str]:
        for quality, count in self._flagged.most_common():
            yield f"{count} of {self.understood} readings say: {quality.words}"
        for n, value in sorted(self._absurd.items()):
            quantity = self._card.channel[n].quantity
            yield f"{value:g} {quantity.unit} is no likely {quantity.value.replace('_', ' ')}"
        silent = [c.quantity for n, c in enumerate(self._card.channel) if n not in self._good]
        if self._good and silent:
            yield f"no {' and no '.join(q.value.replace('_', ' ') for q in silent)} among them"


def heard_bytes(
    card: InstrumentCard,
    decoder: Decoder,
    pieces: Sequence[Arrived],
    line: TransportDefaults,
    *,
    in_step: bool,
) -> Heard | None:
    """Let a decoder read what came, byte by byte, so that each byte's fate shows.

    Args:
        card: whose decoder it is.
        decoder: fresh.
        pieces: what arrived.
        line: how the line was set.
        in_step: the line was quiet before, so the first byte begins a frame.

    Returns:
        The score; None where not one reading came out.
    """
    if not in_step:
        resync = getattr(decoder, "resync", None)  # those of plugins need not have it
        if resync is not None:
            resync()
    tally, understood, judged, since = Tally(card), 0.0, 0, 0
    for piece in pieces:
        for n in range(len(piece.data)):
            since += 1
            readings = decoder.feed(piece.data[n : n + 1], piece.t_ns)
            if readings:
                tally.add(readings)
                fine = sum(r.quality not in _NOT_UNDERSTOOD for r in readings)
                understood += since * fine / len(readings)
                judged, since = judged + since, 0
    if since > decoder.max_frame:
        judged += since  # nothing came of all that
    return tally.heard(understood / judged, line) if tally.understood else None


def best_first(heard: Iterable[Heard]) -> tuple[Heard, ...]:
    """Order by worth: what nothing speaks against, then how much was understood, then how much it gives."""
    return tuple(
        sorted(
            heard,
            key=lambda h: (
                not h.is_good,
                h.readings == 0,
                -round(h.share, 1),
                -len(h.examples),
                not h.line_of_card,
                -h.share,
                h.card,
            ),
        )
    )
