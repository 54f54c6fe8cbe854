"""A recorded run: opened once, aligned once, asked as often as one likes."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from daq.align.marks import Mark
from daq.cards.machine import MachineCard
from daq.model.progress import stretch, unheard
from daq.model.quantity import Quantity
from daq.rated.budget import UncertaintyBudget
from daq.recording.entries import EventEntry, SessionEntry
from daq.recording.moved import moved_from, moved_once
from daq.recording.opening import utc_of
from daq.recording.reader import Recording, read_recording
from daq.run.analysis import Analysis, analyse
from daq.run.channels import ChannelData, RunData, card_of
from daq.run.columns import further_columns
from daq.run.disk_troubles import told_of_the_disk
from daq.verdict.judge import Rule
from daq.verdict.result import Result

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd
    from numpy.typing import NDArray

    from daq.recording.wall_clock import WallClock

__all__ = ["RecordedRun", "open_recording", "run_data", "work_out"]

_GRAVE_EVENTS = frozenset({"link_lost", "refused", "silent", "junk", "loss", "stall", "standstill"})
_MOST_EVENTS = 5
_READ = 0.4
"""About the part that reading has in reading and working out."""


def run_data(recording: Recording, machine: MachineCard | None = None) -> RunData:
    """The channels of a recording, in seconds."""
    channels = []
    for entry in recording.channels:
        column = recording.columns(entry.channel)
        channels.append(
            ChannelData(entry, card_of(entry), np.multiply(column.t_ns, 1e-9), column.value, column.quality)
        )
    return RunData(
        tuple(channels),
        machine if machine is not None else recording.machine,
        imported=recording.session.source == "import",
        problems=(*_what_happened(recording), *recording.problems),
    )


def _what_happened(recording: Recording) -> list[str]:
    """What the capture noted that a reader of the result must know, each once, at most five."""
    over = told_of_the_disk(recording.events, recording.close)
    past = moved_once if recording.close is not None else str
    told = [over.get(n, past(e.text)) for n, e in enumerate(recording.events) if _is_grave(e)]
    distinct = list(dict.fromkeys(told))
    more = len(distinct) - _MOST_EVENTS
    if more <= 0:
        return distinct
    rest = "1 more such event is" if more == 1 else f"{more} more such events are"
    return [*distinct[:_MOST_EVENTS], f"{rest} in the recording."]


def _is_grave(event: EventEntry) -> bool:
    """Whether a reader of the result must know; also why there are two files, where nothing was lost by it."""
    return event.kind in _GRAVE_EVENTS or moved_from(event.text) is not None


class RecordedRun:
    """A recording with what it says.

    Attributes:
        recording: the recording itself, with its problems.
    """

    def __init__(self, recording: Recording, machine: MachineCard | None = None) -> None:
        self.recording = recording
        self.data = run_data(recording, machine)
        self._analysis: dict[Rule, Analysis] = {}

    def analysis(self, rule: Rule = "guarded", progress: Callable[[float], None] = unheard) -> Analysis:
        """Rows, result and what they rest on.

        Args:
            rule: how the limit is compared.
            progress: called between the stages of the work, from 0 to 1; not where it was done before.
        """
        if rule not in self._analysis:
            self._analysis[rule] = analyse(self.data, rule=rule, progress=progress)
        return self._analysis[rule]

    def result(self, rule: Rule = "guarded", progress: Callable[[float], None] = unheard) -> Result:
        """Rated output, uncertainty, lag, verdict and reasons; ``progress`` as for :meth:`analysis`."""
        return self.analysis(rule, progress).result

    def budget(self) -> UncertaintyBudget | None:
        """The uncertainty budget; None where no rated output can be stated."""
        output = self.analysis().output
        return output.budget if output is not None and output.scaled else None

    def aligned(self) -> pd.DataFrame:
        """The aligned rows with the columns of the CSV.

        One row for each AC volts reading: ``time_s`` (float, since the session's
        start), ``utc`` (datetime, UTC, by :mod:`daq.recording.wall_clock`; NaT where no clock showed it),
        ``speed_rpm``, ``voltage_V``,
        ``rated_voltage_V``, ``u_rated_voltage_V`` (float, NaN where unknown),
        ``steady``, ``in_window`` (0 or 1), ``quality`` (words, as categories), then a column
        ``<quantity>_<unit>`` for each further channel. Without an AC volts channel
        the rows are those of the speed, or of the first channel there is.
        """
        import pandas as pd

        rows = self.analysis().rows
        time_s = rows.time_s
        bare = self.data.volts is None
        if bare and self.data.channels:
            base = self.data.speed or self.data.channels[0]
            time_s = base.time_s
        n = len(time_s)
        unknown = np.full(n, np.nan)
        words = pd.Index([m.words for m in Mark])
        frame = pd.DataFrame(
            {
                "time_s": _nearest_to_ns(time_s),
                "utc": pd.DatetimeIndex(_dates(self.recording.wall_clock, time_s), tz="UTC"),
                "speed_rpm": unknown if bare else rows.speed_rpm,
                "voltage_V": unknown if bare else rows.voltage_V,
                "rated_voltage_V": unknown if bare else rows.rated_voltage_V,
                "u_rated_voltage_V": unknown if bare else rows.u_rated_voltage_V,
                "steady": np.zeros(n, np.int8) if bare else rows.steady.astype(np.int8),
                "in_window": np.zeros(n, np.int8) if bare else rows.in_window.astype(np.int8),
                "quality": pd.Categorical.from_codes(
                    np.full(n, int(Mark.NO_VALUE)) if bare else rows.mark, words
                ),
            }
        )
        if (
            bare
            and self.data.speed is not None
            and self.data.speed.entry.quantity is Quantity.ROTATIONAL_SPEED
        ):
            frame["speed_rpm"] = np.where(self.data.speed.usable, self.data.speed.value, np.nan)
        for name, values in further_columns(self.data, time_s).items():
            frame[name] = values
        return frame

    def how_made(self) -> dict[str, object]:
        """How the aligned rows were made, to travel with them."""
        analysis = self.analysis()
        session = self.recording.session
        wall_clock = self.recording.wall_clock
        began, ended = wall_clock.utc(0), wall_clock.utc(self.recording.last_t_ns)
        made: dict[str, object] = {
            "recording": self.recording.path.name,
            "recording_digest": self.recording.digest,
            "recorded_by": session.program,
            "started_utc": _as_noted(session, began),
            "ended_utc": None if ended is None else ended.isoformat(),
            "dates": wall_clock.told(),
            "formula": "rated_voltage_V = voltage_V * rated_speed_rpm / speed_rpm, unloaded only",
            "rated_speed_rpm": analysis.result.rated_speed_rpm,
            "lag_s": analysis.result.lag_s,
            "problems": list(self.recording.problems),
        }
        if analysis.pairing is not None:
            p = analysis.pairing.parameters
            made["alignment"] = {
                "method": "mean speed over the meter's window, from cumulative revolutions",
                "lag_applied_s": p.lag_s,
                "voltage_window_s": p.voltage_window_s,
                "tach_averaging": p.tach_model,
                "longest_bridged_gap_s": p.max_gap_s,
            }
        return made

    def result_json(self, rule: Rule = "guarded") -> bytes:
        """The result as the JSON of ``result --json``."""
        return msgspec.json.format(msgspec.json.encode(self.result(rule)), indent=2)


def _nearest_to_ns(time_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """The float64 nearest to whole nanoseconds, so that a stamp of 58,898 µs reads 0.058898 and no digit more.

    A stamp comes as its nanoseconds times 1e-9, which is not that float64; a whole number over 1e9 is, up to 2^53 ns.
    """
    return np.asarray(np.rint(time_s * 1e9) / 1e9)


def _as_noted(session: SessionEntry, began: datetime | None) -> str | None:
    """The start in the recording's own words, where those are its date."""
    if began is None:
        return None
    return session.started_utc if utc_of(session) == began else began.isoformat()


def _dates(wall_clock: WallClock, time_s: NDArray[np.float64]) -> NDArray[np.datetime64]:
    """The date of each moment, in UTC, to the microsecond; NaT where none is known."""
    if not wall_clock.known:
        return np.full(len(time_s), np.datetime64("NaT", "us"))
    return wall_clock.utc_us(np.rint(time_s * 1e9).astype(np.int64)).astype("datetime64[us]")


def open_recording(
    path: str | os.PathLike[str],
    progress: Callable[[float], None] | None = None,
    *,
    machine: MachineCard | None = None,
) -> RecordedRun:
    """Open a recording.

    Args:
        path: the file.
        progress: called with the part read, from 0 to 1.
        machine: a machine card to use instead of the recording's own.

    Raises:
        RecordingError: it can't be opened or is no recording.
    """
    return RecordedRun(read_recording(path, progress), machine)


def work_out(path: str | os.PathLike[str], progress: Callable[[float], None] = unheard) -> RecordedRun:
    """Open a recording and work out its result at once.

    Args:
        path: the file.
        progress: called with the part of all this that is done, from 0 to 1.

    Raises:
        RecordingError: it can't be opened or is no recording.
    """
    run = open_recording(path, stretch(progress, 0.0, _READ))
    run.analysis(progress=stretch(progress, _READ, 1.0))
    return run
