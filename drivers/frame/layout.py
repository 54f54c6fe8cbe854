"""What the decoder must know of a kind of frame."""

from __future__ import annotations

from typing import Protocol

from daq.driver_api import Reading

__all__ = ["Layout"]


class Layout(Protocol):
    """A kind of frame of one length."""

    length: int
    confirm: int
    """Bytes of the next frame that must be seen before the first one after junk is believed; 0: none."""

    def start_from(self, data: bytes, place: int) -> int:
        """The next place at which a frame could begin; ``len(data)`` where there is none.

        A place near the end counts if what is there so far could be a beginning.
        """
        ...

    def valid(self, frame: bytes) -> bool:
        """Whether sync, tail and check value are right."""
        ...

    def readings(self, frame: bytes, t_ns: int) -> list[Reading]:
        """What a valid frame says."""
        ...

    def take_remarks(self) -> list[str]:
        """Sentences for the person that came up since the last call."""
        ...
