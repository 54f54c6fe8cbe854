"""How long a reading stands for the present: by the pace of the instrument that sent it.

A meter that sends one reading every 5 s is no worse for it: its value is shown until
the next is overdue, with its age once a person would no longer take it for this moment's.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from daq.run.snapshot import ChannelNow

__all__ = ["STALE_S", "age_words", "current", "lasts_s"]

STALE_S = 3.0
"""A value older than this is shown as the present one only where its instrument is slow by nature."""
_INTERVALS = 3.0
"""So many of its own intervals an instrument may take before it counts as silent."""
_OLDER = 2.0
_LEAST_AGE_S = 1.0


def lasts_s(usual_s: float | None) -> float:
    """How long a reading is current, in seconds; ``usual_s``: usual time between two, None where not known."""
    return STALE_S if usual_s is None else max(STALE_S, _INTERVALS * usual_s)


def current(channel: ChannelNow | None) -> bool:
    """Whether the channel's newest reading still stands for the present."""
    return channel is not None and channel.age_s <= lasts_s(channel.usual_s)


def age_words(channel: ChannelNow | None) -> str:
    """Such as "4 s old" where a reading is older than is usual; "" where it is fresh."""
    if channel is None:
        return ""
    usual_s = channel.usual_s
    late = usual_s is not None and channel.age_s > max(_OLDER * usual_s, _LEAST_AGE_S)
    return f"{channel.age_s:.0f} s old" if late or channel.age_s > STALE_S else ""
