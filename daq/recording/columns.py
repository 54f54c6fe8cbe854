"""The readings of one channel as columns, and how they are gathered."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Column", "GrowingColumn"]


class Column(msgspec.Struct):
    """The readings of one channel, oldest first; three arrays of one length.

    Attributes:
        t_ns: int64, nanoseconds since the session's start; never falls.
        value: float64 in the channel's unit, NaN where there is none.
        quality: int8, the numbers of :class:`daq.model.reading.Quality`.
    """

    t_ns: NDArray[np.int64]
    value: NDArray[np.float64]
    quality: NDArray[np.int8]


class GrowingColumn:
    """A column that is filled part by part, with room for what is expected to come.

    Room that is never used costs no memory, since the system provides pages only
    when they are first written.
    """

    def __init__(self) -> None:
        self._length = 0
        self._column = _room_for(0)

    def extend(
        self, t_ns: NDArray[np.int64], value: NDArray[np.float64], quality: NDArray[np.int8], done: float
    ) -> None:
        """Add readings.

        Args:
            t_ns: their times; likewise their values and qualities.
            value: see :class:`Column`.
            quality: see :class:`Column`.
            done: the part of the file that was read with these, above 0 up to 1, to
                estimate how many will come.
        """
        end = self._length + len(t_ns)
        if end > len(self._column.t_ns):
            self._grow(max(2 * self._length, end, int(1.05 * end / done)))
        here = slice(self._length, end)
        self._column.t_ns[here] = t_ns
        self._column.value[here] = value
        self._column.quality[here] = quality
        self._length = end

    def column(self) -> Column:
        """What was added so far; views, not copies."""
        here = slice(0, self._length)
        return Column(self._column.t_ns[here], self._column.value[here], self._column.quality[here])

    def _grow(self, room: int) -> None:
        old, self._column = self.column(), _room_for(room)
        here = slice(0, self._length)
        self._column.t_ns[here] = old.t_ns
        self._column.value[here] = old.value
        self._column.quality[here] = old.quality


def _room_for(count: int) -> Column:
    return Column(np.empty(count, np.int64), np.empty(count, np.float64), np.empty(count, np.int8))
