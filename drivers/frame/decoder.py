"""Decoder of protocol ``frame``: finds frames of fixed length among whatever comes."""

from __future__ import annotations

from daq.driver_api import Quality, Reading
from drivers.frame.layout import Layout

__all__ = ["FrameDecoder"]


class FrameDecoder:
    """Bytes in, readings out.

    Bytes that belong to no frame count as one ``BAD_FRAME`` for each frame's
    length of them, begun ones included. After junk a frame without a check
    value is believed only once the next one is seen to begin right behind it;
    its stamp is then still that of its own last byte.

    Attributes:
        remarks: sentences for the person; whoever takes them empties the list.
    """

    def __init__(self, layout: Layout) -> None:
        self.max_frame = layout.length + layout.confirm
        self.remarks: list[str] = []
        self._layout = layout
        self._held = b""
        self._complete_ns: int | None = None
        """When the frame that waits for confirmation was complete."""
        self._in_step = True
        self._skipped = 0
        self._t_ns = 0

    def feed(self, data: bytes, t_ns: int) -> list[Reading]:
        self._t_ns = t_ns
        held = self._held + data
        readings: list[Reading] = []
        place = 0
        while True:
            start = self._layout.start_from(held, place)
            if start > place:
                self._skip(start - place, t_ns, readings)
                place = start
            used = self._frame_at(held, place, t_ns, readings)
            if used == 0:
                break
            place += used
        self._held = held[place:]
        self.remarks += self._layout.take_remarks()
        return readings

    def flush(self) -> list[Reading]:
        readings = [Reading(0, self._t_ns, None, Quality.BAD_FRAME)] if self._held else []
        self._held, self._complete_ns = b"", None
        self._in_step, self._skipped = True, 0
        return readings

    def resync(self) -> None:
        """The stream goes on in mid-frame: what is left of that one is no fault."""
        self._held, self._complete_ns = b"", None
        self._in_step, self._skipped = False, -self._layout.length

    def _frame_at(self, held: bytes, place: int, t_ns: int, readings: list[Reading]) -> int:
        """Judge the frame that may begin there; how many bytes are done with, 0: more must come."""
        layout = self._layout
        end = place + layout.length
        if len(held) < end:
            return 0
        frame = held[place:end]
        believed = layout.valid(frame)
        complete_ns = self._complete_ns if self._complete_ns is not None else t_ns
        if believed and layout.confirm and not self._in_step:
            if len(held) < end + layout.confirm:
                self._complete_ns = complete_ns
                return 0
            believed = layout.start_from(held[: end + layout.confirm], end) == end
        self._complete_ns = None
        if not believed:
            self._skip(1, t_ns, readings)
            return 1
        self._in_step, self._skipped = True, 0
        readings += layout.readings(frame, complete_ns)
        return layout.length

    def _skip(self, count: int, t_ns: int, readings: list[Reading]) -> None:
        before, self._skipped = self._skipped, self._skipped + count
        self._in_step = False
        bad = self._frames(self._skipped) - self._frames(before)
        readings += [Reading(0, t_ns, None, Quality.BAD_FRAME)] * bad

    def _frames(self, skipped: int) -> int:
        return max(0, -(-skipped // self._layout.length))
