"""What is happening now and what to do next, in one sentence."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from daq.model.reading import Quality
from tui.text import clean
from tui.view.current import current
from tui.view.hold import HOLD_S, held_s, unsettled
from tui.view.numbers import clock, fixed, known, plus_minus, screen_decimals, seconds
from tui.view.speed import fresh_value, throttle
from tui.view.state import Tone

if TYPE_CHECKING:
    from daq.cards.machine import MachineCard
    from daq.run.snapshot import ChannelNow, Snapshot

__all__ = ["HOLD_S", "captured_words", "held_s", "now_sentence"]

_LONG_S = 60.0
"""Silence this long is told with the moment at which it began."""
_CLOSABLE = "The run can be closed."
_VOLTS_HINT = "is the meter awake and its lead on the winding?"
_SPEED_HINT = "is the tape clean and the beam on it?"
_QUALITY_HINTS = {
    Quality.OVERLOAD: "shows overload: choose a higher range",
    Quality.HOLD: "holds its display: release its hold key",
    Quality.LOW_BATTERY: "has a low battery: its readings can't be trusted",
    Quality.WRONG_FUNCTION: "measures something else: turn it to the right function",
    Quality.IMPLAUSIBLE: "sends what can't be: see that its card fits it",
    Quality.BAD_FRAME: "sends what can't be read: check its settings and its cable",
}

Sentence = tuple[str, Tone]


def now_sentence(snapshot: Snapshot, decimals: int | None = None) -> Sentence:
    """Say the one thing that matters most at this moment; ``decimals`` are those of the main value."""
    return (
        _ended(snapshot)
        or _lost(snapshot)
        or _missing(snapshot)
        or _flagged("The meter", snapshot.voltage)
        or _flagged("The tach", snapshot.speed)
        or _throttle(snapshot, decimals)
    )


def _ended(snapshot: Snapshot) -> Sentence | None:
    if not snapshot.finished:
        return None
    if snapshot.close is None:
        return "Cut off: the recording ends here and was never closed.", "doubt"
    return f"The run is closed: {clean(snapshot.close.reason).rstrip('.')}.", "quiet"


def _lost(snapshot: Snapshot) -> Sentence | None:
    lost = [health for health in snapshot.health if health.state == "lost"]
    if not lost:
        return None
    names = [clean(health.instrument, 24) for health in lost]
    why = dict.fromkeys(clean(health.text) or "its link broke; it is tried again" for health in lost)
    if len(lost) == 1:
        return f"{names[0]}: {next(iter(why))}", "bad"
    who = f"{', '.join(names[:-1])} and {names[-1]} are lost"
    return f"{who}: {' '.join(each if each.endswith('.') else f'{each}.' for each in why)}", "bad"


def _missing(snapshot: Snapshot) -> Sentence | None:
    volts, speed = snapshot.voltage, snapshot.speed
    if volts is None and speed is None:
        return "Waiting for the first readings.", "quiet"
    if volts is None:
        return f"No volts yet: {_VOLTS_HINT}", "doubt"
    if speed is None:
        return f"No tach readings yet: {_SPEED_HINT}", "doubt"
    silent = [channel for channel in (volts, speed) if not current(channel)]
    if not silent:
        return None
    age_s = min(channel.age_s for channel in silent)
    if silent[1:]:
        if age_s < _LONG_S:
            return f"Nothing comes any more since {age_s:.0f} s: check both cables.", "bad"
        return f"Both instruments are silent {_since(age_s, snapshot.t_s)}: check both cables.", "bad"
    who, what, hint = ("meter", "volts", _VOLTS_HINT)
    if silent[0] is speed:
        who, what, hint = ("tach", "tach readings", _SPEED_HINT)
    if age_s < _LONG_S:
        return f"No {what} for {age_s:.0f} s: {hint}", "bad"
    return f"The {who} is silent {_since(age_s, snapshot.t_s)}: {hint}", "bad"


def _since(age_s: float, now_s: float) -> str:
    """When a silence began, by the clock that the run's screen shows, and how long ago that is."""
    return f"since {clock(now_s - age_s)} ({seconds(age_s)})"


def _flagged(who: str, channel: ChannelNow | None) -> Sentence | None:
    if channel is None or channel.quality is Quality.GOOD:
        return None
    hint = _QUALITY_HINTS.get(channel.quality, f"gives no value: {channel.quality.words}")
    return f"{who} {hint}.", "doubt"


def _throttle(snapshot: Snapshot, decimals: int | None) -> Sentence:
    machine, speed_rpm = snapshot.machine, fresh_value(snapshot.speed)
    if machine is None or speed_rpm is None:
        return "Readings come; without a machine card there is no rated speed to hold.", "quiet"
    action, away_rpm = throttle(speed_rpm, machine)
    rated = f"{machine.rated_speed_rpm:.0f} rpm"
    decided = _decided(snapshot)
    if action == "start the engine":
        if decided:
            return (
                f"Known: {captured_words(snapshot, decimals)}. The engine stands; the run can be closed.",
                "quiet",
            )
        return "The engine stands: start it and warm it up as its manual says.", "quiet"
    if action == "hold":
        return _hold(snapshot, machine, rated, decimals)
    distance = f"{round(abs(away_rpm) / 10) * 10:.0f} rpm"
    if decided:
        return (
            f"Known: {captured_words(snapshot, decimals)}. For a hold: {action}, {distance} to go.",
            "quiet",
        )
    return f"{action[0].upper()}{action[1:]}: {distance} to go to {rated}.", "doubt"


def _decided(snapshot: Snapshot) -> bool:
    return snapshot.result.verdict in {"pass", "fail"} and known(snapshot.result.rated_voltage_V)


def _hold(snapshot: Snapshot, machine: MachineCard, rated: str, decimals: int | None) -> Sentence:
    held = held_s(snapshot.rows, snapshot.t_s)
    if held >= HOLD_S and (told := _held(snapshot, f"Held {rated} for {held:.0f} s", decimals)) is not None:
        return told
    settling = held == 0.0 and unsettled(snapshot.rows)
    left = f"{max(math.ceil(HOLD_S - held), 1)} s more"
    if _decided(snapshot):
        wanted = "let the speed settle" if settling else left
        return f"Known: {captured_words(snapshot, decimals)}. For a hold at {rated}: {wanted}.", "good"
    if settling:
        return f"At {rated}: leave the throttle and let the speed settle.", "doubt"
    return f"Hold {rated} for {left}.", "good"


def _held(snapshot: Snapshot, held: str, decimals: int | None) -> Sentence | None:
    """What a hold has given; where it decides nothing, why, or what would; None while that isn't known yet."""
    result = snapshot.result
    if result.verdict == "not_enough_data":
        return (
            (f"No result from this hold: {clean(result.reasons[0], 500)}", "doubt")
            if result.reasons
            else None
        )
    if not known(result.rated_voltage_V):
        return None
    given = f"{held}: {captured_words(snapshot, decimals)}"
    if _decided(snapshot):
        return f"{given}. {_CLOSABLE}", "good"
    if result.verdict != "too_close":
        return f"{given}.", "good"
    deciding = next((clean(each, 500) for each in result.reasons if each.endswith("decide it.")), "")
    return (f"{given}. {deciding}" if deciding else f"{given}, too close to call."), "doubt"


def captured_words(snapshot: Snapshot, decimals: int | None = None) -> str:
    """The rated output with its uncertainty, as it is shown from afar.

    Args:
        snapshot: the state of the followed recording.
        decimals: those of the main value, so that one value never stands in two figures; None: as it comes.
    """
    result = snapshot.result
    value, expanded = result.rated_voltage_V, result.expanded_uncertainty_V
    decimals = screen_decimals(expanded, None) if decimals is None else decimals
    text = f"{fixed(value or 0.0, decimals)} V"
    least = bool(result.unknown_errors)
    return text if expanded is None else f"{text} {plus_minus(expanded, least=least)}"
