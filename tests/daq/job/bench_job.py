"""A whole job done on the virtual bench: its readings recorded to files, as a person would with one meter."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from daq.cards.machine import MachineCard
from daq.model.clock import Clock, ManualClock
from daq.model.quantity import Quantity
from daq.model.reading import Quality, Reading
from daq.recording.entries import ChannelEntry, Entry, MachineEntry, SessionEntry, StepEntry
from daq.recording.writer import RecordingWriter
from drivers.bench.build import Build
from drivers.bench.model import Bench, BenchSetup
from drivers.bench.script import script_named
from drivers.builtin_cards import builtin_cards

__all__ = ["CARD", "FUNCTION", "BenchJob", "write_recording"]

FUNCTION = {
    Quantity.AC_VOLTAGE: "VOLT:AC",
    Quantity.DC_VOLTAGE: "VOLT",
    Quantity.DC_CURRENT: "CURR",
    Quantity.RESISTANCE: "RES",
}
_POLL_S = 0.05


CARD = {
    Quantity.AC_VOLTAGE: "bench-meter",
    Quantity.DC_VOLTAGE: "bench-dc-volts",
    Quantity.DC_CURRENT: "bench-amps",
    Quantity.RESISTANCE: "bench-ohms",
}
"""The one meter, by what its dial stands on."""
_STARTED = datetime(2026, 3, 2, 9, tzinfo=UTC)


class BenchJob:
    """One machine on the bench, and the folder where its recordings go; they carry ``card`` where one is given."""

    def __init__(
        self,
        folder: Path,
        fault: str = "healthy",
        seed: int = 1,
        charge: float = 0.6,
        build: Build | None = None,
        clock: Clock | None = None,
        card: MachineCard | None = None,
    ) -> None:
        self.folder, self.card = folder, card
        self.clock = clock or ManualClock(utc=_STARTED)
        self.build = build or Build()
        self.bench = Bench(
            BenchSetup(fault=fault, script="stopped", seed=seed, state_of_charge=charge, build=self.build)
        )
        self.bench.step(1.0)
        self._count = 0

    def loads(self, *, on: bool) -> None:
        """Switch all loads on or off."""
        loads = self.bench.machine.charging.loads
        loads.switch(list(loads.amps) if on else [])

    def rest(self, seconds: float) -> None:
        """Let the machine stand, engine stopped; only the battery changes then, so its time passes in large steps."""
        bench = self.bench
        bench.machine.run(script_named("stopped"))
        while bench.machine.engine.speed_rpm > 0.0:
            bench.step(0.5)
        charging = bench.machine.charging
        for _ in range(round(2.0 * seconds)):
            charging.battery.step(0.5, -charging.loads.current_a(charging.battery_v))
        bench.step(0.5)

    def record(
        self,
        quantity: Quantity,
        place: str,
        script: str,
        seconds: float,
        *,
        step: str | None = None,
        stop_at_s: float | None = None,
        wiggled: bool = False,
        tach: bool = True,
        wait_s: float = 2.5,
    ) -> Path:
        """Put the leads on, turn the dial, start a script, and record.

        ``wait_s``: how long to wait before recording where the engine is to stand.
        """
        bench = self.bench
        bench.put_leads(place)
        bench.machine.run(script_named(script))
        bench.meter.configure(FUNCTION[quantity])
        if script == "stopped":
            bench.step(wait_s)
            while bench.machine.engine.speed_rpm > 0.0:
                bench.step(0.5)
        bench.meter.restart()
        bench.tach.take(bench.t_s)
        bench.machine.wiggled = wiggled
        readings = self._readings(seconds, stop_at_s, tach)
        bench.machine.wiggled = False
        self._count += 1
        path = self.folder / f"{self._count:02d}-{place}-{quantity.value}.jsonl"
        entries: list[Entry] = [] if step is None else [StepEntry(t_ns=0, step=step, state="started")]
        if self.card is not None:
            entries.insert(0, MachineEntry(card=msgspec.to_builtins(self.card)))
        return write_recording(path, quantity, readings, entries, self.clock.utc())

    def _readings(self, seconds: float, stop_at_s: float | None, tach: bool) -> list[Reading]:
        bench, start_s = self.bench, self.bench.t_s
        found: list[Reading] = []
        newest_s = -math.inf
        while bench.t_s - start_s < seconds:
            if stop_at_s is not None and bench.t_s - start_s >= stop_at_s:
                bench.machine.stopped = True
            bench.step(_POLL_S)
            for result in bench.meter.results:
                if result.ready_s > newest_s:
                    newest_s = result.ready_s
                    found.append(_reading(0, result.ready_s - start_s, result.value))
            for line in bench.tach.take(bench.t_s):
                if tach and line.ready_s >= start_s:
                    found.append(_reading(1, line.ready_s - start_s, float(line.text.split()[0])))
        return sorted(found, key=lambda reading: reading.t_ns)


def _reading(channel: int, t_s: float, value: float) -> Reading:
    if math.isinf(value):
        return Reading(channel, round(t_s * 1e9), None, Quality.OVERLOAD)
    return Reading(channel, round(t_s * 1e9), value)


def write_recording(
    path: Path,
    quantity: Quantity,
    readings: Sequence[Reading],
    entries: Sequence[Entry] = (),
    started: datetime = _STARTED,
) -> Path:
    """A closed recording of the bench's meter and tach."""
    utc = started.isoformat(timespec="seconds").replace("+00:00", "Z")
    session = SessionEntry(program="spinvolt sample", started_utc=utc, source="demo")
    meter, tach = builtin_cards(CARD[quantity], "bench-tach")
    channels = [
        ChannelEntry(
            channel=number,
            quantity=card.channel[0].quantity,
            unit=card.channel[0].quantity.unit,
            instrument=card.name,
            address="virtual bench",
            card=msgspec.to_builtins(card),
            card_channel=0,
        )
        for number, card in enumerate((meter, tach))
    ]
    with RecordingWriter.create(path, session, force=True) as writer:
        writer.write([*channels, *entries, *readings])
        writer.flush()
        writer.close(max((reading.t_ns for reading in readings), default=0), "done")
    return path
