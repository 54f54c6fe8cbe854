"""Makes the sample runs in this folder: ``python recordings/make_samples.py [FOLDER]``.

Invented machines on the virtual bench, worked out faster than real time: the
bench's bytes go through the decoders and into the recording as live ones do.
The times are the bench's, so the files come out the same each time.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import msgspec

from daq.cards.instrument import InstrumentCard
from daq.cards.machine import parse_machine_card
from daq.model.reading import Quality, Reading
from daq.recording.entries import ChannelEntry, MachineEntry, SessionEntry
from daq.recording.writer import RecordingWriter
from drivers.bench.fast import simulate
from drivers.bench.model import BenchSetup
from drivers.builtin_cards import builtin_cards
from drivers.scpi.numbers import parse_number
from drivers.text.decoder import TextDecoder
from drivers.text.settings import parse_settings

SAMPLES = {
    "healthy-sweep": (BenchSetup(fault="healthy", script="sweep", seed=11), 45.0),
    "weak-magnets-hunting": (BenchSetup(fault="weak_magnets", script="hold", seed=12, hunting=True), 45.0),
    "gap-and-false-tach": (
        BenchSetup(fault="healthy", script="sweep", seed=13, false_tach=0.06, tach_gap=(18.0, 7.0)),
        45.0,
    ),
}
_STARTED = "2026-03-14T09:00:00Z"


def make(folder: Path) -> list[Path]:
    """Make all samples in a folder, over those that are there."""
    return [_make_one(folder / f"{name}.jsonl", *sample) for name, sample in SAMPLES.items()]


def _make_one(path: Path, setup: BenchSetup, seconds: float) -> Path:
    cards = builtin_cards("bench-meter", "bench-tach")
    session = SessionEntry(program="spinvolt sample", started_utc=_STARTED, source="demo")
    writer = RecordingWriter.create(path, session, force=True)
    machine = (Path(__file__).parent.parent / "daq/cards/machines/nursery-sprayer.toml").read_text("utf-8")
    card = parse_machine_card(machine, origin="nursery-sprayer.toml")
    writer.write([MachineEntry(card=msgspec.to_builtins(card))])
    writer.write([_channel(number, card) for number, card in enumerate(cards)])
    readings = sorted(_readings(setup, seconds, cards), key=lambda reading: reading.t_ns)
    writer.write(readings)
    writer.close(round(seconds * 1e9), f"the {seconds:g} s are over")
    return path


def _channel(number: int, card: InstrumentCard) -> ChannelEntry:
    quantity = card.channel[0].quantity
    return ChannelEntry(
        channel=number,
        quantity=quantity,
        unit=quantity.unit,
        instrument=card.name,
        address="virtual bench",
        card=msgspec.to_builtins(card),
        card_channel=0,
    )


def _readings(setup: BenchSetup, seconds: float, cards: tuple[InstrumentCard, ...]) -> Iterator[Reading]:
    meter, tach = cards
    lines = TextDecoder(tach.channel[0], parse_settings(tach))
    for arrival in simulate(setup, seconds):
        t_ns = round(arrival.t_s * 1e9)
        if arrival.card == tach.name:
            yield from (
                msgspec.structs.replace(reading, channel=1) for reading in lines.feed(arrival.data, t_ns)
            )
        else:
            value, quality = parse_number(arrival.data.strip()) or (None, Quality.BAD_FRAME)
            yield Reading(0, t_ns, value, quality)


if __name__ == "__main__":
    for made in make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent):
        print(made.name)
