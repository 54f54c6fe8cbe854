"""Snapshots made by hand: only what a test cares about is given."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np

from daq.cards.machine import MachineCard
from daq.model.reading import Quality
from daq.recording.entries import CloseEntry, EventEntry
from daq.run.rows import AlignedRows, RawSeries
from daq.run.snapshot import ChannelNow, InstrumentHealth, Snapshot
from daq.verdict.result import Result
from tui.control import BY_HAND, Answer

MACHINE = MachineCard(
    name="cart",
    title="Sprayer cart of an invented plant nursery",
    rated_speed_rpm=3600,
    speed_tolerance_rpm=100,
    minimum_ac_voltage_v=20.0,
)
PASSED = Result(
    rated_speed_rpm=3600,
    rated_voltage_V=24.612,
    standard_uncertainty_V=0.155,
    expanded_uncertainty_V=0.312,
    coverage_factor=2.01,
    effective_degrees_of_freedom=52.0,
    lag_s=0.31,
    lag_u_s=0.02,
    volts_per_1000rpm=6.836,
    offset_V=0.02,
    offset_u_V=0.05,
    pole_pairs=6,
    minimum_V=20.0,
    conformance_probability=0.99999,
    verdict="pass",
    rows=412,
    rows_rejected=8,
    reasons=["The rated output is above the limit by more than its uncertainty."],
)


def result(**changes: object) -> Result:
    """The passed result with changes."""
    return msgspec.structs.replace(PASSED, **changes)


def rows(
    speed_of: Callable[[np.ndarray], np.ndarray],
    *,
    until_s: float,
    volts_per_1000rpm: float = 6.836,
    noise_v: float = 0.05,
) -> AlignedRows:
    """Ten rows a second over the last two minutes at most."""
    rng = np.random.default_rng(7)
    time_s = np.arange(max(until_s - 120, 0.2), until_s, 0.1)
    speed = speed_of(time_s)
    volts = volts_per_1000rpm * speed / 1000 + rng.normal(0, noise_v, len(time_s))
    in_window = np.abs(speed - 3600) <= 100
    steady = np.abs(np.gradient(speed, time_s)) < 40 if len(time_s) > 1 else np.ones(len(time_s), dtype=bool)
    return AlignedRows(
        time_s=time_s,
        speed_rpm=speed,
        voltage_V=volts,
        rated_voltage_V=volts * 3600 / np.maximum(speed, 1),
        u_rated_voltage_V=np.full(len(time_s), 0.15),
        steady=steady,
        in_window=in_window,
        mark=np.zeros(len(time_s), dtype=np.uint8),
    )


def hunting(time_s: np.ndarray) -> np.ndarray:
    """A warm-up at idle, a climb, then rated speed with a little hunting."""
    climb = np.clip((time_s - 12) / 10, 0, 1)
    speed: np.ndarray = 1900 + 1690 * climb + 22 * np.sin(2 * np.pi * time_s / 5)
    return speed


def health(instrument: str = "scpi-meter", /, **changes: object) -> InstrumentHealth:
    """A healthy instrument."""
    base = InstrumentHealth(instrument, "/dev/ttyUSB0", "ok", 0.1, 9.9, 448, 0, 0, "")
    return replace(base, **changes)  # type: ignore[arg-type]  # a builder takes any field


def snapshot(
    t_s: float = 45.0, speed_of: Callable[[np.ndarray], np.ndarray] = hunting, **changes: object
) -> Snapshot:
    """A healthy run after ``t_s`` seconds."""
    aligned = rows(speed_of, until_s=t_s)
    raw_time = aligned.time_s
    base = Snapshot(
        t_s=t_s,
        machine=MACHINE,
        voltage=ChannelNow("V", float(aligned.voltage_V[-1]), Quality.GOOD, 0.08),
        speed=ChannelNow("rpm", float(aligned.speed_rpm[-1]), Quality.GOOD, 0.2),
        raw_voltage=RawSeries(raw_time, aligned.voltage_V),
        raw_speed=RawSeries(raw_time, aligned.speed_rpm),
        rows=aligned,
        result=PASSED,
        health=(health(), health("text-speed", rate_hz=2.0, age_s=0.2, readings=90)),
    )
    return replace(base, **changes)  # type: ignore[arg-type]  # a builder takes any field


def empty_snapshot(**changes: object) -> Snapshot:
    """A run of which nothing has come yet."""
    nothing = RawSeries(np.empty(0), np.empty(0))
    base = snapshot(
        t_s=1.0,
        voltage=None,
        speed=None,
        raw_voltage=nothing,
        raw_speed=nothing,
        rows=AlignedRows.empty(),
        result=Result(rated_speed_rpm=3600, minimum_V=20.0),
        health=(
            health(state="waiting", age_s=None, rate_hz=None, readings=0),
            health("text-speed", state="waiting", age_s=None, rate_hz=None, readings=0),
        ),
    )
    return replace(base, **changes)  # type: ignore[arg-type]  # a builder takes any field


CLOSED = CloseEntry(
    t_ns=45_000_000_000, reason="stopped by hand or by a signal", readings=538, digest="sha256:00"
)
EVENT = EventEntry(
    t_ns=31_000_000_000, kind="silent", text="text-speed has been silent for 4 s.", instrument="text-speed"
)


class StillFeed:
    """A feed whose snapshot a test sets."""

    def __init__(self, first: Snapshot | None = None) -> None:
        self.snapshot = first
        self.failure: Exception | None = None
        self.started = self.stopped = False

    def start(self) -> None:
        self.started = True

    def latest(self) -> Snapshot | None:
        if self.failure is not None:
            raise self.failure
        return self.snapshot

    def notice(self) -> str:
        return ""

    def stop(self) -> None:
        self.stopped = True


class RecordingControl:
    """Keeps what the screen asked for."""

    records = True
    keyed = False

    def __init__(self, path: Path = Path("spinvolt-20261125-103000.jsonl")) -> None:
        self.path = path
        self.marks: list[str] = []
        self.lines: list[str] = []
        self.stops = 0
        self.sentence = ""
        self.held = ""
        self.understood: list[Answer] = []

    def mark(self, text: str) -> None:
        self.marks.append(text)

    def typed(self, line: str) -> None:
        self.lines.append(line)

    def stop(self, reason: str = BY_HAND) -> None:
        self.stops += 1

    def answers(self) -> list[Answer]:
        taken, self.understood = self.understood, []
        return taken

    def warning(self) -> str:
        return self.held

    def trouble(self) -> str:
        return self.sentence
