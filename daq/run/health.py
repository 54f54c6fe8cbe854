"""How each instrument is doing: age of its newest reading, pace, bad frames, losses."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from daq.model.reading import Quality
from daq.recording.entries import ChannelEntry, EventEntry
from daq.run.pace import Pace
from daq.run.snapshot import InstrumentHealth

__all__ = ["HealthWatch"]

_PACE_S = 10.0
"""The pace is that of the last ten seconds."""
_SILENT_S = 5.0
"""Where the card does not say otherwise, silence longer than this counts as silent."""


@dataclass
class _Instrument:
    address: str
    silence_s: float
    newest_s: float | None = None
    recent_s: dict[int, NDArray[np.float64]] = field(default_factory=dict)
    paces: dict[int, Pace] = field(default_factory=dict)
    readings: int = 0
    bad_frames: int = 0
    lost: int = 0
    link: str = "ok"
    text: str = ""


class HealthWatch:
    """Counts over the whole run and keeps the last seconds for the pace."""

    def __init__(self) -> None:
        self._instruments: dict[str, _Instrument] = {}
        self._paces: dict[int, Pace] = {}

    def declare(self, entry: ChannelEntry) -> None:
        """A channel was declared."""
        silence = entry.card.get("silence_s", _SILENT_S)
        usable = isinstance(silence, int | float) and silence > 0
        one = self._instruments.setdefault(
            entry.instrument, _Instrument(entry.address, float(silence) if usable else _SILENT_S)
        )
        self._paces[entry.channel] = Pace(entry)
        one.paces[entry.channel] = self._paces[entry.channel]

    def readings(self, entry: ChannelEntry, t_ns: NDArray[np.int64], quality: NDArray[np.int8]) -> None:
        """Readings of one channel came; arrays of shape (n,), n >= 1."""
        one = self._instruments[entry.instrument]
        time_s = t_ns.astype(np.float64) * 1e-9
        come = time_s[quality != Quality.LOST]  # a loss is written down beside the readings, and is none
        if len(come):
            one.newest_s = max(one.newest_s or 0.0, float(come[-1]))
            self._paces[entry.channel].note(come)
        recent = np.concatenate((one.recent_s.get(entry.channel, np.empty(0)), time_s))
        one.recent_s[entry.channel] = recent[recent > recent[-1] - _PACE_S]
        one.readings += len(time_s)
        one.bad_frames += int(np.sum(quality == Quality.BAD_FRAME))
        one.lost += int(np.sum(quality == Quality.LOST))
        if one.link == "silent":
            one.link = "ok"

    def event(self, entry: EventEntry) -> None:
        """Something happened to an instrument."""
        one = self._instruments.get(entry.instrument or "")
        if one is None:
            return
        one.text = entry.text
        if entry.kind in {"link_lost", "refused"}:
            one.link = "lost"
        elif entry.kind == "link_back":
            one.link, one.text = "ok", ""
        elif entry.kind == "silent":
            one.link = "silent"

    def usual_s(self, channel: int) -> float | None:
        """Usual time between two readings of a declared channel; None where neither they nor its card say."""
        return self._paces[channel].usual_s

    def states(self, now_s: float) -> tuple[InstrumentHealth, ...]:
        """How each stands at a moment of the session's time."""
        return tuple(_health(name, one, now_s) for name, one in self._instruments.items())


def _health(name: str, one: _Instrument, now_s: float) -> InstrumentHealth:
    age = None if one.newest_s is None else max(0.0, now_s - one.newest_s)
    state = one.link
    if state == "ok":
        if age is None:
            state = "waiting"
        elif age > one.silence_s:
            state = "silent"
    paces = [(len(t) - 1) / (t[-1] - t[0]) for t in one.recent_s.values() if len(t) > 1 and t[-1] > t[0]]
    return InstrumentHealth(
        instrument=name,
        address=one.address,
        state=state,
        age_s=age,
        rate_hz=float(max(paces)) if paces else None,
        readings=one.readings,
        bad_frames=one.bad_frames,
        lost=one.lost,
        text=one.text,
        usual_s=min(
            (usual for pace in one.paces.values() if (usual := pace.usual_s) is not None), default=None
        ),
    )
