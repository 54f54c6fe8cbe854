"""Which part of a recording belongs to a step of the sheet, by the step entries in it."""

from __future__ import annotations

from collections.abc import Sequence

from daq.recording.entries import StepEntry

__all__ = ["Stretch", "other_step", "stretches_of"]

Stretch = tuple[float, float]
"""From and to, seconds since the recording's start."""

_ENDS = frozenset({"done", "skipped", "cut_short", "ended"})


def stretches_of(entries: Sequence[StepEntry], step: str, end_s: float) -> tuple[Stretch, ...]:
    """When a step was under way.

    A recording without step entries belongs to whatever it is given for: the whole of it is returned.
    One whose entries are all of other steps gives nothing.
    """
    if not entries:
        return ((0.0, end_s),)
    found: list[Stretch] = []
    since: float | None = None
    for entry in sorted(entries, key=lambda each: each.t_ns):
        at = entry.t_ns * 1e-9
        if since is not None:
            found.append((since, at))
            since = None
        if entry.step == step and entry.state not in _ENDS:
            since = at
    if since is not None:
        found.append((since, end_s))
    return tuple(stretch for stretch in found if stretch[1] > stretch[0])


def other_step(entries: Sequence[StepEntry], step: str) -> str | None:
    """The step for which a recording was made, where that is another one; else None."""
    names = [entry.step for entry in entries if entry.state not in _ENDS]
    if not names or step in names:
        return None
    return names[0]
