"""The engine's speed against its window, and what to do about it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from daq.model.reading import Quality
from tui.view.current import age_words, current
from tui.view.state import SpeedView, Tone

if TYPE_CHECKING:
    from daq.cards.machine import MachineCard
    from daq.run.snapshot import ChannelNow

__all__ = ["bar_place", "ended_speed", "fresh_value", "speed_view", "throttle"]

STANDING_RPM = 200.0
"""Below this an engine does not run on its own (our choice)."""
BAR_RPM = 1500.0
"""Distance from rated speed at either end of the bar."""


def fresh_value(channel: ChannelNow | None) -> float | None:
    """The channel's value where it is good and not too old."""
    if channel is None or channel.value is None or not current(channel):
        return None
    return channel.value if channel.quality is Quality.GOOD and math.isfinite(channel.value) else None


def throttle(speed_rpm: float, machine: MachineCard) -> tuple[str, float]:
    """What to do with the throttle and how far the speed is from rated speed, in rpm.

    Within the window there is nothing to do; near it the words ease off.
    """
    away_rpm = machine.rated_speed_rpm - speed_rpm
    tolerance_rpm = machine.speed_tolerance_rpm
    if abs(away_rpm) <= tolerance_rpm:
        return "hold", away_rpm
    if speed_rpm < STANDING_RPM:
        return "start the engine", away_rpm
    amount = "a little " if abs(away_rpm) <= 3 * tolerance_rpm else ""
    return f"{amount}{'more' if away_rpm > 0 else 'less'} throttle", away_rpm


def bar_place(away_rpm: float) -> float:
    """Where on the bar a distance from rated speed lies, from -1 to 1.

    The scale is a square root, so that the window is wide and the last
    revolutions are easy to see, while a standing engine is still on the bar.
    """
    share = min(abs(away_rpm) / BAR_RPM, 1.0)
    return math.copysign(math.sqrt(share), -away_rpm)


def speed_view(channel: ChannelNow | None, machine: MachineCard | None) -> SpeedView:
    """Show a speed against the machine's window."""
    value_rpm = fresh_value(channel)
    digits = f"{value_rpm:4.0f}" if value_rpm is not None else "----"
    age = "" if value_rpm is None else age_words(channel)
    if machine is None:
        return SpeedView(
            digits,
            "rpm",
            "no machine card: rated speed not known",
            "",
            "",
            "quiet",
            None,
            None,
            "",
            "",
            "",
            "",
            age,
        )
    rated_rpm, tolerance_rpm = machine.rated_speed_rpm, machine.speed_tolerance_rpm
    labels = (
        f"{max(rated_rpm - BAR_RPM, 0):.0f}",
        f"{rated_rpm - tolerance_rpm:.0f}",
        f"{rated_rpm + tolerance_rpm:.0f}",
        f"{rated_rpm + BAR_RPM:.0f}",
    )
    window = bar_place(-tolerance_rpm)
    if value_rpm is None:
        return SpeedView(digits, "rpm", "no speed", "", "", "doubt", None, window, *labels)
    action, away_rpm = throttle(value_rpm, machine)
    tone: Tone = "good" if action == "hold" else "doubt"
    arrows = "" if action == "hold" else _arrows(away_rpm, tolerance_rpm)
    to_go = "" if action == "hold" else f"{_rounded(abs(away_rpm)):.0f} rpm to go"
    return SpeedView(digits, "rpm", action, arrows, to_go, tone, bar_place(away_rpm), window, *labels, age)


def ended_speed(machine: MachineCard | None, *, cut_off: bool) -> SpeedView:
    """The speed of a run that is over: there is none now, and nothing is left to do about it."""
    words = "the recording is cut off" if cut_off else "the run is closed"
    return replace(speed_view(None, machine), action=words, tone="quiet")


def _arrows(away_rpm: float, tolerance_rpm: float) -> str:
    """Three far off, two nearer, one beside the window."""
    count = 1 + (abs(away_rpm) > 3 * tolerance_rpm) + (abs(away_rpm) > 8 * tolerance_rpm)
    return ("▶" if away_rpm > 0 else "◀") * count


def _rounded(distance_rpm: float) -> float:
    """To ten, so that the number can be read while it moves."""
    return round(distance_rpm / 10) * 10
