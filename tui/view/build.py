"""A snapshot in, a view out: the whole of what the run screen shows, with no screen in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daq.model.reading import Quality
from tui.text import clean
from tui.view.captured import captured_now
from tui.view.current import age_words, current
from tui.view.doing import now_sentence
from tui.view.health import health_view
from tui.view.keyed import Typing, typed_sentence
from tui.view.numbers import clock, fixed, known, own_error_unknown, plus_minus, screen_decimals
from tui.view.plots import rated_trace, scatter, speed_trace
from tui.view.speed import ended_speed, speed_view
from tui.view.state import Memory, PlotView, RatedView, ViewState
from tui.view.verdict import verdict_view

if TYPE_CHECKING:
    from daq.run.snapshot import ChannelNow, Snapshot

__all__ = ["SPAN_S", "WIDE_SPAN_S", "build_view"]

SPAN_S = 60.0
"""What a trace shows unless told otherwise."""
WIDE_SPAN_S = 120.0
"""What it shows where there is room for twice as many columns."""
_PLOTS = ("rated", "speed", "scatter")


def build_view(
    snapshot: Snapshot,
    previous: ViewState | None = None,
    *,
    span_s: float = SPAN_S,
    plots_too: bool = True,
    typing: Typing = "elsewhere",
) -> ViewState:
    """Work out everything the run screen shows.

    Args:
        snapshot: the state of the followed recording.
        previous: the last view, so that digits and axes hold still.
        span_s: length of the traces, at most the two minutes a snapshot holds.
        plots_too: work the plots out anew; otherwise the previous ones are kept.
        typing: how readings are typed here, where they are.
    """
    memory = previous.memory if previous else Memory()
    decimals = screen_decimals(snapshot.result.expanded_uncertainty_V, memory.decimals)
    if previous is None or plots_too:
        plots = _plots(snapshot, memory, span_s)
        ranges = _ranges(plots)
    else:
        plots = dict(zip(_PLOTS, (previous.rated_trace, previous.speed_trace, previous.scatter), strict=True))
        ranges = memory.ranges
    now, now_tone = typed_sentence(snapshot, typing) or now_sentence(snapshot, decimals)
    captured, held_until_s = captured_now(snapshot, memory, decimals)
    machine = snapshot.machine
    cut_off = snapshot.finished and snapshot.close is None
    return ViewState(
        heading=clean(machine.title) if machine else "no machine card",
        elapsed=clock(snapshot.t_s),
        rated=_rated(snapshot, decimals),
        verdict=verdict_view(snapshot.result, ended=snapshot.finished),
        speed=ended_speed(machine, cut_off=cut_off)
        if snapshot.finished
        else speed_view(snapshot.speed, machine),
        raw_volts="-- V" if snapshot.finished else _raw(snapshot.voltage),
        now=now,
        now_tone=now_tone,
        health=tuple(health_view(health, ended=snapshot.finished) for health in snapshot.health),
        messages=_messages(snapshot),
        rated_trace=plots["rated"],
        speed_trace=plots["speed"],
        scatter=plots["scatter"],
        finished=snapshot.finished,
        cut_off=cut_off,
        captured=captured,
        memory=Memory(decimals, ranges, captured, held_until_s),
    )


def _messages(snapshot: Snapshot) -> tuple[str, ...]:
    """What happened; at the end with what was kept out of the result, and why."""
    said = [f"{clock(event.t_ns / 1e9)} {clean(event.text)}" for event in snapshot.events]
    if snapshot.finished:
        said += [clean(reason, 500) for reason in snapshot.result.reasons if "kept out" in reason]
    return tuple(said)


def _plots(snapshot: Snapshot, memory: Memory, span_s: float) -> dict[str, PlotView]:
    return {
        "rated": rated_trace(snapshot, span_s, memory.range_of("rated y")),
        "speed": speed_trace(snapshot, span_s, memory.range_of("speed y")),
        "scatter": scatter(snapshot, memory.range_of("scatter x"), memory.range_of("scatter y")),
    }


def _rated(snapshot: Snapshot, decimals: int) -> RatedView:
    result = snapshot.result
    speed = result.rated_speed_rpm
    at = "at rated speed" if speed is None else f"at {speed:.0f} rpm, unloaded"
    value, expanded = result.rated_voltage_V, result.expanded_uncertainty_V
    if value is None or not known(value):
        return RatedView("--.-", "V", "", at)
    interval = "" if expanded is None else plus_minus(expanded)
    left_out = own_error_unknown(result.unknown_errors) if interval else ""
    # Two places before the point whatever comes after it: the number does not move when a decimal comes or goes.
    before_point = 2 + (decimals + 1 if decimals else 0)
    return RatedView(f"{fixed(value, decimals):>{before_point}}", "V", interval, at, left_out=left_out)


def _raw(channel: ChannelNow | None) -> str:
    if channel is None or not current(channel):
        return "-- V"
    age = f", {words}" if (words := age_words(channel)) else ""
    if channel.value is None or channel.quality is not Quality.GOOD:
        return f"{channel.quality.words}{age}"
    return f"{channel.value:.2f} {channel.unit}{age}"


def _ranges(plots: dict[str, PlotView]) -> tuple[tuple[str, tuple[float, float]], ...]:
    found: list[tuple[str, tuple[float, float]]] = []
    for name, plot in plots.items():
        if not plot.empty:
            found.append((f"{name} y", (plot.y_low, plot.y_high)))
            found.append((f"{name} x", (plot.x_low, plot.x_high)))
    return tuple(found)
