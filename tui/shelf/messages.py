"""What the process that works results out tells before it has one."""

from __future__ import annotations

import msgspec

__all__ = ["Part"]


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """How much of the work on a recording is done, from 0 to 1."""

    path: str
    part: float
