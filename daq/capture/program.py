"""The capture itself: instruments in, one recording out, until something ends it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import msgspec

from daq.capture.clocks import ClockWatch
from daq.capture.pipes import StatusWriter
from daq.capture.shared_ports import refuse_shared_ports
from daq.capture.sink import Sink
from daq.capture.spec import (
    CaptureSpec,
    Closed,
    Closing,
    Control,
    Failed,
    Key,
    Mark,
    RecordingMoved,
    RecordingStarted,
    Refused,
    Resumed,
    Stalled,
    Step,
    Stop,
)
from daq.capture.standstill import StandstillWatch, standstill_text
from daq.capture.supervise import Supervisor
from daq.cards.instrument import InstrumentCard
from daq.errors import CardError, OutputError
from daq.model.clock import Clock, asleep_ns
from daq.model.reading import Quality, Reading
from daq.output import check_free
from daq.recording.entries import (
    ChannelEntry,
    ClockEntry,
    EventEntry,
    Line,
    MachineEntry,
    MarkEntry,
    SessionEntry,
    StepEntry,
)
from daq.recording.moved import Moved
from daq.recording.numbered import create_numbered
from daq.recording.wall_clock import start_text
from daq.recording.writer import RecordingWriter
from daq.registry import Registry

__all__ = ["Capture", "unique_names"]

_TICK_S = 0.2
_CLOCK_ENTRY_EVERY_NS = 60_000_000_000
_MOST_EARLY_LINES = 100_000


def unique_names(names: Sequence[str]) -> list[str]:
    """Number names that come more than once: "text-volts", "text-volts-2"."""
    given: list[str] = []
    for name in names:
        candidate, n = name, 1
        while candidate in given:
            n += 1
            candidate = f"{name}-{n}"
        given.append(candidate)
    return given


class Capture:
    """One run.

    Args:
        spec: what to capture and where to.
        registry: the drivers.
        clock: stamps and pauses.
        status: where to say what happens.
        asleep: how long the computer has slept, in nanoseconds.

    Raises:
        OutputError: the recording exists and may not be replaced.
        CardError: a card does not fit its protocol.
        DriverError: no driver speaks a card's protocol.
        UsageError: an address makes no sense for its card, or two cards are given one serial port.
    """

    def __init__(
        self,
        spec: CaptureSpec,
        registry: Registry,
        clock: Clock,
        status: StatusWriter,
        asleep: Callable[[], int] = asleep_ns,
    ) -> None:
        self._spec = spec
        self._clock = clock
        self._status = status
        self._path = Path(spec.path)
        if not spec.numbered:
            check_free(self._path, force=spec.force)
        self._start_ns = clock.now_ns()
        self._start_utc = clock.utc()
        self._sink: Sink | None = None
        self._early: list[Line] = []
        self._stop = asyncio.Event()
        self._reason = ""
        self._next_clock_ns = _CLOCK_ENTRY_EVERY_NS
        self._clock_watch = ClockWatch(clock, asleep)
        self._first_channels: dict[str, int] = {}
        self._newest_ns: dict[int, int] = {}
        """Time of the newest reading of each channel."""
        self._supervisors = self._make_supervisors(registry)

    def stop(self, reason: str) -> None:
        """End the run; the first reason counts. Safe to call again."""
        self._reason = self._reason or reason
        self._stop.set()

    def control(self, message: Control) -> None:
        """Do what a control message asks."""
        match message:
            case Stop(reason=reason):
                self.stop(reason)
            case Mark(text=text):
                self._put([MarkEntry(t_ns=self._now_ns(), text=text)])
            case Step(step=step, state=state, text=text):
                self._put([StepEntry(t_ns=self._now_ns(), step=step, state=state, text=text)])
            case Key(instrument=name, line=line):
                for supervisor in self._supervisors:
                    if name in (supervisor.name, supervisor.address):
                        answer = supervisor.typed(line)
                        if answer is not None:
                            self._status.send(answer)

    async def run(self) -> bool:
        """Capture until something ends it; True when a recording was closed properly."""
        tasks = [asyncio.create_task(s.run(), name=s.name) for s in self._supervisors]
        try:
            if not await self._until_one_is_open(tasks):
                return False
            try:
                self._begin()
            except OutputError as error:
                return self._fail(str(error))
            failure = await self._until_stopped()
            return await self._finish(failure)
        finally:
            for task in tasks:
                task.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)

    async def _until_one_is_open(self, tasks: Sequence[asyncio.Task[None]]) -> bool:
        while not any(s.opened for s in self._supervisors):
            if self._stop.is_set():
                return self._fail(f"The run was ended before an instrument was connected: {self._reason}.")
            if all(s.trouble for s in self._supervisors):
                return self._fail(self._troubles(), usage=all(s.senseless for s in self._supervisors))
            await asyncio.sleep(0.01)
        return True

    async def _until_stopped(self) -> str:
        """Wait for the end; the sentence of a failure, or nothing."""
        end_ns = None if self._spec.seconds is None else self._now_ns() + round(self._spec.seconds * 1e9)
        # The loop's own clock: its waits go by that one, also where the run's is another.
        standstill = StandstillWatch(asyncio.get_running_loop().time)
        while not self._stop.is_set():
            self._look(standstill.check())
            if self._nothing_useful():
                return self._troubles()
            wait_s = _TICK_S
            if end_ns is not None:
                left_s = (end_ns - self._now_ns()) / 1e9
                if left_s <= 0:
                    self.stop(f"the {self._spec.seconds:g} s are over")
                wait_s = min(wait_s, max(left_s, 0))
            standstill.next_after(wait_s)
            try:
                async with asyncio.timeout(wait_s):
                    await self._stop.wait()
            except TimeoutError:
                continue
        return ""

    def _look(self, stood_s: float | None) -> None:
        """Look after everything; ``stood_s``: how long the capture itself has just stood still, if it did."""
        slept = self._read_both_clocks()
        if stood_s is not None:
            # Neither instruments nor disk are to blame for it, so nobody looks at their clocks this time.
            for supervisor in self._supervisors:
                supervisor.nobody_listened()
            if not slept:
                text = standstill_text(stood_s)
                self._put([EventEntry(t_ns=self._now_ns(), kind="standstill", text=text)])
            return
        for supervisor in self._supervisors:
            supervisor.tick()
        if self._sink is not None:
            self._sink.tick()

    async def _finish(self, failure: str) -> bool:
        sink = self._sink
        if sink is None:
            raise RuntimeError("a run that never began can't finish")
        self._status.send(Closing())
        useful = sum(s.useful for s in self._supervisors)
        if not useful:
            await sink.discard()
            why = failure or f"No reading came before the end ({self._reason})"
            return self._fail(f"{why.rstrip('.')}. No recording was kept.")
        try:
            readings = await sink.close(self._reason)
        except OutputError as error:
            return self._fail(f"The recording ends early: {error}")
        self._status.send(Closed(self._reason, readings))
        return True

    def _nothing_useful(self) -> bool:
        if self._spec.patient or any(s.useful for s in self._supervisors):
            return False
        return all(s.trouble for s in self._supervisors)

    def _troubles(self) -> str:
        return " ".join(s.trouble for s in self._supervisors if s.trouble)

    def _fail(self, text: str, *, usage: bool = False) -> bool:
        self._status.send(Failed(text, usage))
        return False

    def _begin(self) -> None:
        session = SessionEntry(
            program=f"spinvolt {_version()}",
            started_utc=start_text(self._start_utc),
            source=self._spec.source,
            note=self._spec.note,
        )
        create = create_numbered if self._spec.numbered else RecordingWriter.create
        writer = create(self._path, session, force=self._spec.force)
        self._path = writer.path
        writer.write(self._header())
        writer.write(self._early)
        self._early.clear()
        writer.flush()
        self._sink = Sink(writer, self._stalled, self._resumed, self._moved, self._now_ns)
        self._status.send(RecordingStarted(str(self._path)))

    def _header(self) -> list[Line]:
        header: list[Line] = []
        if self._spec.machine is not None:
            header.append(MachineEntry(card=self._spec.machine))
        for supervisor in self._supervisors:
            card = msgspec.to_builtins(supervisor.card)
            for n, channel in enumerate(supervisor.card.channel):
                header.append(
                    ChannelEntry(
                        channel=self._first_channels[supervisor.name] + n,
                        quantity=channel.quantity,
                        unit=channel.quantity.unit,
                        instrument=supervisor.name,
                        address=supervisor.address,
                        card=card,
                        card_channel=n,
                    )
                )
        return header

    def _make_supervisors(self, registry: Registry) -> list[Supervisor]:
        cards = [_card(spec.card) for spec in self._spec.instruments]
        names = unique_names([card.name for card in cards])
        refuse_shared_ports(
            [(c.name, spec.address) for c, spec in zip(cards, self._spec.instruments, strict=True)]
        )
        made: list[Supervisor] = []
        channel = 0
        for name, card, spec in zip(names, cards, self._spec.instruments, strict=True):
            driver = registry.driver(card.protocol)
            driver.check(card)
            driver.connect(card, spec.address, self._clock)  # refuses an address that makes no sense
            self._first_channels[name] = channel
            readings, event = self._readings_taker(channel), self._event_taker(name)
            made.append(Supervisor(name, card, spec.address, driver, self._clock, readings, event))
            channel += len(card.channel)
        return made

    def _readings_taker(self, first: int) -> Callable[[Sequence[Reading]], None]:
        start_ns = self._start_ns

        def take(readings: Sequence[Reading]) -> None:
            rows = [Reading(first + r.channel, r.t_ns - start_ns, r.value, r.quality) for r in readings]
            self._newest_ns.update((row.channel, row.t_ns) for row in rows)
            self._put(rows)

        return take

    def _event_taker(self, name: str) -> Callable[[str, str], None]:
        def take(kind: str, text: str) -> None:
            self._put([EventEntry(t_ns=self._now_ns(), kind=kind, text=text, instrument=name)])
            if kind == "refused":
                self._status.send(Refused(name, text))

        return take

    def _put(self, lines: Sequence[Line]) -> None:
        if self._sink is not None:
            self._sink.put(lines)
        elif len(self._early) < _MOST_EARLY_LINES:
            self._early.extend(lines)

    def _now_ns(self) -> int:
        return self._clock.now_ns() - self._start_ns

    def _read_both_clocks(self) -> bool:
        """Note both once a minute, and whenever they have parted; gives whether the computer slept."""
        now_ns = self._now_ns()
        jump = self._clock_watch.check()
        if jump is not None:
            if jump.slept:
                # What came before the sleep and what came after it are no neighbours.
                self._put([Reading(n, t_ns, None, Quality.LOST) for n, t_ns in self._newest_ns.items()])
            self._put([EventEntry(t_ns=now_ns, kind="note", text=jump.text)])
        if jump is not None or now_ns >= self._next_clock_ns:
            self._next_clock_ns = now_ns + _CLOCK_ENTRY_EVERY_NS
            utc = _rfc3339(self._clock.utc().isoformat(timespec="microseconds"))
            self._put([ClockEntry(t_ns=now_ns, utc=utc)])
        return jump is not None and jump.slept

    def _stalled(self, text: str) -> None:
        self._put([EventEntry(t_ns=self._now_ns(), kind="stall", text=text)])
        self._status.send(Stalled(text))

    def _resumed(self, text: str) -> None:
        self._put([EventEntry(t_ns=self._now_ns(), kind="note", text=text)])
        self._status.send(Resumed(text))

    def _moved(self, moved: Moved) -> None:
        self._path = moved.path
        self._status.send(RecordingMoved(str(moved.path), moved.text))


def _card(table: dict[str, object]) -> InstrumentCard:
    try:
        return msgspec.convert(table, InstrumentCard)
    except msgspec.ValidationError as error:
        raise CardError(f"Instrument card {table.get('name', '')}: {error}.") from error


def _rfc3339(text: str) -> str:
    return text.replace("+00:00", "Z")


def _version() -> str:
    try:
        return version("spinvolt")
    except PackageNotFoundError:
        return "(not installed)"
