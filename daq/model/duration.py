"""A length of time in words: "2.5 s", "90 min", "26 h 5 min", "12 days"."""

from __future__ import annotations

__all__ = ["duration_words"]

_DAY_HOURS = 24


def duration_words(seconds: float) -> str:
    """A length of time as one says it; from two minutes, two hours and two days on in the next greater unit.

    Args:
        seconds: not negative.
    """
    if seconds < 120:
        return f"{seconds:.1f} s"
    minutes = round(seconds / 60)
    if minutes < 120:
        return f"{minutes} min"
    if minutes < 2 * _DAY_HOURS * 60:
        return f"{minutes // 60} h {minutes % 60} min"
    return f"{round(minutes / 60 / _DAY_HOURS)} days"
