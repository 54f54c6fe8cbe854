"""Takes in a recording piece by piece and keeps what its lines mean together.

One object for every reader: the whole file at once, a growing file, a replay.
It knows the session, the channels and the newest time of each, and collects
what is wrong into a few sentences.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import msgspec
import numpy as np

from daq.cards.machine import MachineCard
from daq.model.counted import counted
from daq.model.reading import Quality
from daq.recording.batch import Batch, join_batches, split_by_channel
from daq.recording.entries import ChannelEntry, ClockEntry, CloseEntry, MachineEntry, SessionEntry
from daq.recording.lines import MAX_CHANNELS, MAX_T_NS, clean_text
from daq.recording.plausible import beyond_bounds
from daq.recording.troubles import Trouble, Troubles
from daq.recording.wall_clock import WallClock

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from daq.recording.blocks import Block
    from daq.recording.parse import Parsed, PlacedEntry

__all__ = ["Intake"]


class Intake:
    """The state of one pass over a recording.

    Attributes:
        session: its first line, once that was taken in.
        machine: the newest machine card, or None.
        channels: by number.
        wall_clock: the dates of its moments.
        close: the closing line, or None so far.
        lines: whole lines taken in.
        readings: readings taken in and kept.
        last_t_ns: latest time seen, 0 before any.
        troubles: what was wrong.
    """

    def __init__(self) -> None:
        self.session: SessionEntry | None = None
        self.machine: MachineCard | None = None
        self.channels: dict[int, ChannelEntry] = {}
        self.wall_clock = WallClock()
        self.close: CloseEntry | None = None
        self.lines = 0
        self.readings = 0
        self.last_t_ns = 0
        self.troubles = Troubles()
        self._readings_in_file = 0
        self._sha256 = hashlib.sha256()
        self._newest_t_ns = np.full(MAX_CHANNELS, -1, np.int64)

    @property
    def digest(self) -> str:
        """The SHA-256, as "sha256:" and hex digits, of every byte so far that is not the closing line."""
        return "sha256:" + self._sha256.hexdigest()

    def take_block(self, block: Block, *, bulk: bool) -> Batch:
        """Parse and take in a block of the file."""
        return self.take_pieces(block, block.parse(bulk=bulk))

    def take_pieces(self, block: Block, pieces: Sequence[Parsed]) -> Batch:
        """Take in a block that was parsed already."""
        data = memoryview(block.data)
        batches = []
        for piece in pieces:
            batches.append(self.take(piece, data[: piece.size]))
            data = data[piece.size :]
        return join_batches(batches)

    def take(self, parsed: Parsed, block: memoryview) -> Batch:
        """Take in the next piece; what can't be right is left out and noted.

        Args:
            parsed: what the piece held.
            block: its bytes, for the digest.
        """
        entries: list[PlacedEntry] = []
        declared: dict[int, int] = {}
        taken = len(parsed.line) if self.close is None else 0
        for placed in parsed.entries if self.close is None else ():
            if self._accept(placed, declared):
                entries.append(placed)
            if self.close is not None:
                taken = placed.reading
                self._sha256.update(block[: placed.offset])
                self._note_close(self.close, self.lines + placed.line + 1, taken)
                self._note_rest(parsed, placed.line + 1)
                break
        else:
            self._note_whole(parsed, block)
        batch = self._readings(parsed, taken, declared, entries)
        self.lines += parsed.lines
        return batch

    def _note_whole(self, parsed: Parsed, block: memoryview) -> None:
        """A piece without a closing line of its own."""
        if self.close is not None:
            self._note_rest(parsed, 0)
            return
        self._sha256.update(block)
        self._readings_in_file += len(parsed.line)
        if parsed.bad:
            line, reason = parsed.bad[0]
            self.troubles.add(Trouble.BAD_LINE, self.lines + line + 1, reason, parsed.bad_count)

    def _note_rest(self, parsed: Parsed, line: int) -> None:
        self.troubles.add(Trouble.AFTER_CLOSE, self.lines + line + 1, count=parsed.lines - line)

    def _note_close(self, close: CloseEntry, line: int, readings_before: int) -> None:
        self._readings_in_file += readings_before
        if close.digest != self.digest:
            self.troubles.add(Trouble.CHANGED, line)
        elif close.readings != self._readings_in_file:
            detail = f"{counted(close.readings, 'reading')} where there are {self._readings_in_file}"
            self.troubles.add(Trouble.MISCOUNT, line, detail)

    def _accept(self, placed: PlacedEntry, declared: dict[int, int]) -> bool:
        """Keep what an entry says; False where it can't be right."""
        entry, line = placed.entry, self.lines + placed.line + 1
        if isinstance(entry, SessionEntry):
            return self._accept_session(entry, line)
        if isinstance(entry, MachineEntry):
            return self._accept_machine(entry, line)
        if isinstance(entry, ChannelEntry):
            return self._accept_channel(entry, line, declared, placed.reading)
        if not 0 <= entry.t_ns <= MAX_T_NS:
            self.troubles.add(Trouble.BAD_ENTRY, line, f"t_ns = {entry.t_ns} is no time within the session")
            return False
        if isinstance(entry, ClockEntry) and (problem := self.wall_clock.take(entry)) is not None:
            self.troubles.add(Trouble.BAD_ENTRY, line, problem)
            return False
        self.last_t_ns = max(self.last_t_ns, entry.t_ns)
        if isinstance(entry, CloseEntry):
            self.close = entry
        return True

    def _accept_session(self, entry: SessionEntry, line: int) -> bool:
        if self.session is None and line == 1:
            self.session = entry
            self.wall_clock.begin(entry)
            return True
        self.troubles.add(Trouble.BAD_ENTRY, line, "a session line may stand in line 1 only")
        return False

    def _accept_machine(self, entry: MachineEntry, line: int) -> bool:
        try:
            self.machine = msgspec.convert(entry.card, MachineCard)
        except (msgspec.ValidationError, OverflowError) as error:
            self.troubles.add(Trouble.BAD_MACHINE, line, clean_text(str(error), limit=160))
            return False
        return True

    def _accept_channel(self, entry: ChannelEntry, line: int, declared: dict[int, int], at: int) -> bool:
        problem = None
        if not 0 <= entry.channel < MAX_CHANNELS:
            problem = f"channel {entry.channel} is not from 0 to {MAX_CHANNELS - 1}"
        elif entry.channel in self.channels:
            problem = f"channel {entry.channel} is declared twice"
        elif entry.unit != entry.quantity.unit:
            unit = clean_text(entry.unit, limit=20)
            problem = f"{entry.quantity.value} is recorded in {entry.quantity.unit}, not in {unit!r}"
        if problem is not None:
            self.troubles.add(Trouble.BAD_ENTRY, line, problem)
            return False
        self.channels[entry.channel] = entry
        declared[entry.channel] = at
        return True

    def _readings(
        self, parsed: Parsed, taken: int, declared: dict[int, int], entries: list[PlacedEntry]
    ) -> Batch:
        channel, t_ns, value, quality = parsed.columns.head(taken)
        good = np.ones(taken, np.bool_)
        for number, places in split_by_channel(channel):
            self._check_channel(number, places, t_ns, good, parsed.line, declared.get(number, 0))
        quality = self._mark_missing(value, quality, parsed.line)
        value, quality = self._mark_implausible(channel, value, quality, good, parsed.line)
        entry_at = [placed.reading for placed in entries]
        if not good.all():
            kept_before = np.concatenate(([0], np.cumsum(good)))
            entry_at = kept_before[entry_at].tolist()
            channel, t_ns, value, quality = channel[good], t_ns[good], value[good], quality[good]
        self.readings += len(t_ns)
        if len(t_ns):
            self.last_t_ns = max(self.last_t_ns, int(t_ns.max()))
        return Batch(channel, t_ns, value, quality, [placed.entry for placed in entries], entry_at)

    def _check_channel(
        self,
        number: int,
        places: NDArray[np.intp],
        t_ns: NDArray[np.int64],
        good: NDArray[np.bool_],
        line: NDArray[np.int32],
        declared_at: int,
    ) -> None:
        """Mark the readings of one channel that can't be right; remember its newest time."""
        early = len(places) if number not in self.channels else int(np.searchsorted(places, declared_at))
        if early:
            self.troubles.add(
                Trouble.UNDECLARED, self.lines + int(line[places[0]]) + 1, str(number), count=early
            )
            good[places[:early]] = False
            places = places[early:]
            if not len(places):
                return
        times = t_ns[places]
        if times[0] < self._newest_t_ns[number] or bool((times[1:] < times[:-1]).any()):
            newest_before = np.maximum.accumulate(
                np.concatenate((self._newest_t_ns[number : number + 1], times))
            )
            backwards = places[times < newest_before[:-1]]
            self.troubles.add(
                Trouble.BACKWARDS, self.lines + int(line[backwards[0]]) + 1, str(number), count=len(backwards)
            )
            good[backwards] = False
            self._newest_t_ns[number] = newest_before[-1]
        else:
            self._newest_t_ns[number] = times[-1]

    def _mark_missing(
        self, value: NDArray[np.float64], quality: NDArray[np.int8], line: NDArray[np.int32]
    ) -> NDArray[np.int8]:
        """A reading without a value is not a good one, whatever the file says."""
        wrong = np.flatnonzero(np.isnan(value) & (quality == int(Quality.GOOD)))
        if not len(wrong):
            return quality
        self.troubles.add(Trouble.NO_VALUE, self.lines + int(line[wrong[0]]) + 1, count=len(wrong))
        quality = quality.copy()
        quality[wrong] = int(Quality.NOT_A_NUMBER)
        return quality

    def _mark_implausible(
        self,
        channel: NDArray[np.int16],
        value: NDArray[np.float64],
        quality: NDArray[np.int8],
        good: NDArray[np.bool_],
        line: NDArray[np.int32],
    ) -> tuple[NDArray[np.float64], NDArray[np.int8]]:
        """A reading that can't be is none: nothing is reckoned with it and nothing drawn."""
        wrong = beyond_bounds(channel, value, self.channels)
        wrong = wrong[good[wrong]]
        if not len(wrong):
            return value, quality
        first = int(wrong[0])
        detail = f"{value[first]:g} {self.channels[int(channel[first])].unit}"
        self.troubles.add(Trouble.IMPLAUSIBLE, self.lines + int(line[first]) + 1, detail, len(wrong))
        value, quality = value.copy(), quality.copy()
        value[wrong], quality[wrong] = np.nan, int(Quality.IMPLAUSIBLE)
        return value, quality
