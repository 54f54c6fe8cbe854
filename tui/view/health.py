"""The health of each instrument in words, with a shape beside the colour."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from daq.model.counted import counted
from tui.text import clean
from tui.view.current import lasts_s
from tui.view.numbers import seconds
from tui.view.state import HealthView, Tone

if TYPE_CHECKING:
    from daq.run.snapshot import InstrumentHealth

__all__ = ["health_view", "unseen"]

_STATES: dict[str, tuple[str, str, Tone]] = {
    "waiting": ("waiting", "○", "quiet"),
    "ok": ("ok", "●", "good"),
    "silent": ("silent", "◌", "bad"),
    "lost": ("lost", "✗", "bad"),
}
_OVER: dict[str, tuple[str, str, Tone]] = {
    "ok": ("ended", "○", "quiet"),
    "waiting": ("nothing", "○", "quiet"),
}
"""What they are called once the run is over."""


def health_view(health: InstrumentHealth, *, ended: bool = False) -> HealthView:
    """Put an instrument's health into words.

    Args:
        health: how it is doing, or was doing when its run ended.
        ended: its run is over: nothing is fresh any more, so that age and rate are not told.
    """
    words, shape, tone = _STATES.get(health.state, (clean(health.state), "?", "doubt"))
    if ended and health.state in _OVER:
        words, shape, tone = _OVER[health.state]
    elif health.state == "ok" and _late(health):
        words, shape, tone = _STATES["silent"]
    age = "nothing yet" if health.age_s is None else f"{seconds(health.age_s)} ago"
    return HealthView(
        name=clean(health.instrument, 24),
        age="" if ended else age,
        rate="" if ended or health.rate_hz is None else f"{health.rate_hz:.1f}/s",
        bad=f"{health.bad_frames + health.lost} bad",
        counts=_counts(health),
        state=words,
        shape=shape,
        tone="doubt" if tone != "bad" and health.state == "ok" and health.lost else tone,
        note=clean(health.text) if health.state != "ok" else "",
    )


def _late(health: InstrumentHealth) -> bool:
    """Whether its value is not shown any more, for its age: by the same rule, so that the two never disagree."""
    return health.age_s is not None and health.age_s > lasts_s(health.usual_s)


def unseen(view: HealthView) -> HealthView:
    """The same while the disk takes nothing: what comes waits in memory, and nobody here can say how much."""
    return replace(
        view, age="", rate="", state="not shown", shape="○", tone="doubt", note="what comes waits in memory"
    )


def _counts(health: InstrumentHealth) -> str:
    parts = [counted(health.readings, "reading"), counted(health.bad_frames, "bad frame")]
    if health.lost:
        parts.append(f"{health.lost} lost")
    return ", ".join(parts)
