"""A stretch of a recording: what every reader of one is handed, in file order."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import msgspec
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from daq.recording.entries import Entry

__all__ = ["Batch", "Source", "empty_batch", "join_batches", "slice_batch", "split_by_channel"]


class Batch(msgspec.Struct):
    """Readings as four arrays of one length, and the entries that stood among them.

    Attributes:
        channel: int16, the recording's channel numbers.
        t_ns: int64, nanoseconds since the session's start; never falls within one channel.
        value: float64 in the channel's unit, NaN where there is none.
        quality: int8, the numbers of :class:`daq.model.reading.Quality`.
        entries: in file order.
        entry_at: for each entry, how many readings of this batch stood before it.
    """

    channel: NDArray[np.int16]
    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    quality: NDArray[np.int8]
    entries: list[Entry]
    entry_at: list[int]

    def __bool__(self) -> bool:
        """Whether there is anything in it."""
        return bool(self.entries) or len(self.t_ns) > 0


class Source(Protocol):
    """Where batches come from: a growing file, a closed one, or a replay.

    Attributes:
        finished: nothing more will come.
        problems: what was wrong so far; a sentence may change its counts while polling.
    """

    @property
    def finished(self) -> bool:
        """Nothing more will come."""
        ...

    @property
    def problems(self) -> list[str]:
        """What was wrong so far, one sentence each."""
        ...

    def poll(self) -> Batch:
        """Whatever is new, without waiting; an empty batch when nothing is.

        Raises:
            RecordingError: the file is no recording, or it was cut or replaced meanwhile.
        """
        ...


def empty_batch() -> Batch:
    """A batch with nothing in it."""
    return Batch(
        np.empty(0, np.int16), np.empty(0, np.int64), np.empty(0, np.float64), np.empty(0, np.int8), [], []
    )


def join_batches(batches: Sequence[Batch]) -> Batch:
    """Batches one after the other, as one."""
    if len(batches) == 1:
        return batches[0]
    if not batches:
        return empty_batch()
    starts = np.cumsum([0] + [len(batch.t_ns) for batch in batches]).tolist()
    return Batch(
        np.concatenate([batch.channel for batch in batches]),
        np.concatenate([batch.t_ns for batch in batches]),
        np.concatenate([batch.value for batch in batches]),
        np.concatenate([batch.quality for batch in batches]),
        [entry for batch in batches for entry in batch.entries],
        [start + at for start, batch in zip(starts, batches, strict=False) for at in batch.entry_at],
    )


def slice_batch(batch: Batch, readings: slice, entries: slice) -> Batch:
    """A part of a batch; ``readings`` and ``entries`` must start and stop at definite places."""
    return Batch(
        batch.channel[readings],
        batch.t_ns[readings],
        batch.value[readings],
        batch.quality[readings],
        batch.entries[entries],
        [at - readings.start for at in batch.entry_at[entries]],
    )


def split_by_channel(channel: NDArray[np.int16]) -> Iterator[tuple[int, NDArray[np.intp]]]:
    """Each channel that occurs, lowest first, with the places where it does, in order."""
    present = np.flatnonzero(np.bincount(channel)) if len(channel) else np.empty(0, np.intp)
    if len(present) <= 16:
        for number in present.tolist():
            yield number, np.flatnonzero(channel == number)
        return
    order = np.argsort(channel, kind="stable")
    ends = np.searchsorted(channel[order], present, side="right")
    yield from zip(present.tolist(), np.split(order, ends[:-1]), strict=True)
