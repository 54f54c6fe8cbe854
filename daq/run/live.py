"""A run while it goes on: follows a source, keeps the last two minutes, and says how things stand.

Live, ``watch`` and ``replay`` are this one code path; only the source differs.
While the run goes on, the rows and the result come from the last two minutes;
when it has ended, the result is that of the whole recording, which the caller
gets from :func:`daq.run.recorded.open_recording`.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import replace

import msgspec
import numpy as np
from numpy.typing import NDArray

from daq.align.pairing import Pairing
from daq.align.two_cores import one_core
from daq.cards.machine import MachineCard
from daq.model.clock import Clock
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.recording.batch import Batch, Source
from daq.recording.entries import ChannelEntry, ClockEntry, CloseEntry, EventEntry, MachineEntry, SessionEntry
from daq.run.analysis import Analysis, analyse
from daq.run.channels import ChannelData, RunData, card_of
from daq.run.health import HealthWatch
from daq.run.lag_timing import lag_due, speed_moved
from daq.run.rows import AlignedRows, RawSeries
from daq.run.snapshot import ChannelNow, OtherChannel, Snapshot
from daq.verdict.judge import Rule

__all__ = ["KEEP_S", "LiveRun"]

KEEP_S = 120.0
"""How much of a run is kept and looked at while it goes on."""
_AGAIN_S = (0.5, 1.0)
"""Least session time between two analyses of the kept stretch: of a short one, of a long one."""
_MORE = 1.0 / 30.0
"""Share of the kept stretch that is worth another analysis."""
_REST = 1.0
"""Least pause after an analysis, in its own duration: at most half of one core is taken from the capture."""
_LONGEST_REST_NS = 2_000_000_000
"""One during which the whole program was suspended seems to have taken hours, and is no reason to rest for hours."""
_BEFORE_S = 3.0
"""A movement that began so shortly before the last estimate hardly counted in it."""
_EVENTS = 20
_SHOWN_APART = frozenset(
    {Quantity.AC_VOLTAGE, Quantity.ROTATIONAL_SPEED, Quantity.REVOLUTIONS, Quantity.DEVICE_TIME}
)


class LiveRun:
    """Follows a source.

    Attributes:
        channels: the channels declared so far, by number.
        session: the first line; None until it came.
    """

    def __init__(
        self,
        source: Source,
        *,
        machine: MachineCard | None = None,
        rule: Rule = "guarded",
        clock: Clock | None = None,
    ) -> None:
        """Follow a source from its start.

        Args:
            source: of the run's lines.
            machine: the card to judge by; None: the recording's own.
            rule: how the limit of the card is held against the result.
            clock: tells what an analysis takes, so that one that took long is followed by as long a pause;
                None: the session's time alone says when the next is due.
        """
        self._source = source
        self._clock = clock
        self._rested_ns = 0
        """When the pause after the last analysis ends."""
        self._given_machine = machine
        self._machine = machine
        self._rule = rule
        self.session: SessionEntry | None = None
        self.channels: dict[int, ChannelEntry] = {}
        self._kept: dict[int, _Kept] = {}
        self._health = HealthWatch()
        self._events: deque[EventEntry] = deque(maxlen=_EVENTS)
        self._close: CloseEntry | None = None
        self._newest_s = 0.0
        self._analysed_s = -np.inf
        self._more = False
        """There is more to analyse than at the last time; a word of silence is nothing of the kind."""
        self._lag_at_s = -np.inf
        self._analysis = analyse(RunData((), machine))
        self._counted: tuple[float, float] | None = None
        """Time and speed of the newest row that had one, also once all rows are older than what is kept."""

    @one_core()
    def update(self, now_s: float | None = None) -> Snapshot:
        """Take in whatever is new and say how things stand.

        Args:
            now_s: session time now, for the ages; None: the newest time in the source.

        Raises:
            RecordingError: from the source.
        """
        batch = self._source.poll()
        fresh = bool(batch)
        if fresh:
            self._take(batch)
        moment = self._newest_s if now_s is None else max(now_s, self._newest_s)
        if fresh and (self._due() or self._source.finished):
            begun_ns = self._now_ns()
            self._analysis = self._analyse()
            ended_ns = self._now_ns()
            self._rested_ns = ended_ns + min(int(_REST * (ended_ns - begun_ns)), _LONGEST_REST_NS)
            self._analysed_s = self._newest_s
            self._more = False
        return self._snapshot(moment)

    def _now_ns(self) -> int:
        return 0 if self._clock is None else self._clock.now_ns()

    def _due(self) -> bool:
        """Whether an analysis is due: the more there is, the less half a second more can change."""
        if not self._more or self._now_ns() < self._rested_ns:
            return False
        kept_s = self._newest_s - min((kept.oldest_s for kept in self._kept.values()), default=self._newest_s)
        return self._newest_s - self._analysed_s >= min(max(_AGAIN_S[0], _MORE * kept_s), _AGAIN_S[1])

    def _take(self, batch: Batch) -> None:
        self._more |= len(batch.t_ns) > 0
        for entry in batch.entries:
            self._take_entry(entry)
        for number in np.unique(batch.channel).tolist():
            here = batch.channel == number
            kept = self._kept.setdefault(int(number), _Kept())
            kept.extend(batch.t_ns[here], batch.value[here], batch.quality[here])
            self._newest_s = max(self._newest_s, kept.newest_s)
            channel = self.channels.get(int(number))
            if channel is not None:
                self._health.readings(channel, batch.t_ns[here], batch.quality[here])
        for kept in self._kept.values():
            kept.forget_before(self._newest_s - KEEP_S)

    def _take_entry(self, entry: object) -> None:
        match entry:
            case SessionEntry():
                self.session = entry
            case MachineEntry():
                self._more = True
                self._take_machine(entry)
            case ChannelEntry():
                self.channels[entry.channel] = entry
                self._health.declare(entry)
            case EventEntry():
                self._events.append(entry)
                self._health.event(entry)
                self._newest_s = max(self._newest_s, entry.t_ns * 1e-9)
            case CloseEntry():
                self._close = entry
                self._newest_s = max(self._newest_s, entry.t_ns * 1e-9)
            case ClockEntry():
                self._newest_s = max(self._newest_s, entry.t_ns * 1e-9)
            case _:
                pass

    def _take_machine(self, entry: MachineEntry) -> None:
        if self._given_machine is not None:
            return
        try:
            self._machine = msgspec.convert(entry.card, MachineCard)
        except msgspec.ValidationError:
            self._machine = None  # the source has told it among its problems

    def _analyse(self) -> Analysis:
        data = RunData(
            tuple(self._kept[n].channel(e) for n, e in self.channels.items() if n in self._kept),
            self._machine,
            imported=self.session is not None and self.session.source == "import",
        )
        known = self._analysis.pairing
        if known is not None and not self._source.finished and not self._lag_due(data, known):
            return analyse(data, rule=self._rule, given=self._analysis)
        self._lag_at_s = self._newest_s
        return analyse(data, rule=self._rule)

    def _lag_due(self, data: RunData, known: Pairing) -> bool:
        speed = data.speed
        if speed is None:
            return True
        counts = speed.entry.quantity is Quantity.REVOLUTIONS  # whose values say nothing of a change
        return lag_due(
            self._newest_s - self._lag_at_s,
            self._newest_s - float(speed.time_s[0]),
            determined=known.lag.determined,
            moved=counts
            or speed_moved(speed.value[speed.usable & (speed.time_s > self._lag_at_s - _BEFORE_S)]),
        )

    def _snapshot(self, now_s: float) -> Snapshot:
        volts = self._of(Quantity.AC_VOLTAGE)
        speed = self._of(Quantity.ROTATIONAL_SPEED)
        return Snapshot(
            t_s=now_s,
            machine=self._machine,
            voltage=None if volts is None else self._now(volts, now_s, Quantity.AC_VOLTAGE.unit),
            speed=self._counted_now(now_s)
            if speed is None
            else self._now(speed, now_s, Quantity.ROTATIONAL_SPEED.unit),
            raw_voltage=_Kept().series() if volts is None else self._kept[volts].series(),
            raw_speed=_Kept().series() if speed is None else self._kept[speed].series(),
            rows=self._analysis.rows,
            result=self._analysis.result,
            health=self._health.states(now_s),
            events=tuple(self._events),
            others=tuple(self._others(now_s)),
            finished=self._source.finished,
            close=self._close,
        )

    def _others(self, now_s: float) -> Iterator[OtherChannel]:
        for number, entry in self.channels.items():
            if number in self._kept and entry.quantity not in _SHOWN_APART:
                kept = self._kept[number]
                yield OtherChannel(entry.quantity, self._now(number, now_s, entry.unit), kept.series())

    def _of(self, quantity: Quantity) -> int | None:
        for number, entry in self.channels.items():
            if entry.quantity is quantity and number in self._kept:
                return number
        return None

    def _now(self, number: int, now_s: float, unit: str) -> ChannelNow | None:
        return self._kept[number].now(now_s, unit, self._health.usual_s(number))

    def _counted_now(self, now_s: float) -> ChannelNow | None:
        """A counter gives no speed of its own: the newest aligned row has one."""
        rows: AlignedRows = self._analysis.rows
        known = np.flatnonzero(np.isfinite(rows.speed_rpm))
        if len(known):
            last = int(known[-1])
            self._counted = (float(rows.time_s[last]), float(rows.speed_rpm[last]))
        if self._counted is None:
            return None
        time_s, speed_rpm = self._counted
        age_s = max(0.0, now_s - time_s)
        return ChannelNow(Quantity.ROTATIONAL_SPEED.unit, speed_rpm, Quality.GOOD, age_s)

    def whole(self, analysis: Analysis) -> Snapshot:
        """The last snapshot with the whole run's rows and result in it."""
        return replace(self._snapshot(self._newest_s), rows=analysis.rows, result=analysis.result)


class _Kept:
    """The newest readings of one channel, in arrays that are moved up only now and then."""

    def __init__(self) -> None:
        self._t = np.empty(0)
        self._v = np.empty(0)
        self._q = np.empty(0, np.int8)
        self._heard_s = 0.0
        """When the newest reading came; a loss is written down beside the readings, and is none."""
        self._newest: tuple[float, int] | None = None
        """Value and quality of the newest one, also once it is forgotten: what fell silent was there."""

    @property
    def newest_s(self) -> float:
        return float(self._t[-1]) if len(self._t) else 0.0

    @property
    def oldest_s(self) -> float:
        return float(self._t[0]) if len(self._t) else 0.0

    def extend(self, t_ns: NDArray[np.int64], value: NDArray[np.float64], quality: NDArray[np.int8]) -> None:
        self._t = np.concatenate((self._t, t_ns.astype(np.float64) * 1e-9))
        self._v = np.concatenate((self._v, value))
        self._q = np.concatenate((self._q, quality))
        if len(t_ns):
            self._newest = float(value[-1]), int(quality[-1])
        come = t_ns[quality != Quality.LOST]
        if len(come):
            self._heard_s = float(come[-1]) * 1e-9

    def forget_before(self, time_s: float) -> None:
        first = int(np.searchsorted(self._t, time_s))
        if first:
            self._t, self._v, self._q = self._t[first:], self._v[first:], self._q[first:]

    def series(self) -> RawSeries:
        return RawSeries(self._t, np.where(self._q == Quality.GOOD, self._v, np.nan))

    def channel(self, entry: ChannelEntry) -> ChannelData:
        return ChannelData(entry, card_of(entry), self._t, self._v, self._q)

    def now(self, now_s: float, unit: str, usual_s: float | None) -> ChannelNow | None:
        if self._newest is None:
            return None
        value, quality = self._newest
        return ChannelNow(
            unit,
            value if np.isfinite(value) else None,
            Quality(quality),
            max(0.0, now_s - self._heard_s),
            usual_s,
        )
