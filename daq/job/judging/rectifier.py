"""Judges the regulator-rectifier: its amps, its ripple, and whether it loads the stator."""

from __future__ import annotations

from math import log

from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import source_of
from daq.job.judging.charging import least_contribution_a
from daq.job.judging.given import Given, Measured
from daq.job.judging.held_back import may_hold_back
from daq.job.judging.verdicts import (
    CONFIDENCE,
    Finding,
    Line,
    StepJudgement,
    StepVerdict,
    at_least,
    at_most,
    call,
    judged,
    telling,
)
from daq.job.judging.winding import winding_ohm
from daq.job.words import amount, plain

__all__ = ["judge_rectifier"]

_MOST_RIPPLE_V = 0.5
_FORM_LIMIT = 0.59
"""AC over DC amps of the charging current, between the two that the rectifiers make.

A full-wave rectified sine has 0.48, a half-wave one 1.21 (by definition). The
battery's resistance, by which the ripple volts are turned into amps, comes out too
high where the loads were on for some seconds before it was read: after one second
by a third, after ten by three times and more. The limit is the middle, as ratios go,
between 0.48 and the 0.73 of a half wave at a resistance read too high by two thirds.
"""
_FORM_DOUBT = 0.5
_EVEN_SHARE = 0.35
"""Of the volts that the output's amps would leave in the winding if they all flowed one way."""
_EVEN_DOUBT = 0.12
_LEAST_A = 1.0
_FULL = "the battery is nearly full and the regulator holds back: switch more loads on and read again."
_HALF_FROM = 0.85
_SOFT_FROM = 0.7
"""How sure it has to be that half waves are missing, or that the battery is soft, for the ripple to fail."""
_FINE_UP_TO = 0.35
"""So that a full wave at a battery read without delay, 0.48 in all, still passes."""


def judge_rectifier(given: Given) -> StepJudgement:
    """Output amps, ripple, and the stator's volts under load."""
    lines: list[Line] = []
    findings: list[Finding] = []
    output = given.value("output_current")
    if output is not None:
        _judge_output(given, Measured(abs(output.value), output.u), lines, findings)
    _judge_ripple(given, lines, findings)
    _judge_half_waves(given, lines, findings)
    _judge_loading(given, lines, findings)
    return judged(lines, findings)


def _judge_output(given: Given, output: Measured, lines: list[Line], findings: list[Finding]) -> None:
    reading = amount(output.value, output.u, "A")
    title = "Amps of the regulator-rectifier"
    none = at_most(output.value, output.u, least_contribution_a(given))
    text = f"the regulator-rectifier gives {reading}"
    full = may_hold_back(given)
    if not full:
        findings.append(Finding("rectified_none", none, text))
    card = given.machine.charging_current_a
    if card is None:
        verdict: StepVerdict = "fail" if none > CONFIDENCE and not full else "no_limit"
        sentence = f"{reading} come out; the card has no range to judge it by."
        lines.append(Line(title=title, reading=reading, limit="", verdict=verdict, sentence=sentence))
        return
    enough = at_least(output.value, output.u, card[0])
    limit = f"{card[0]:g} to {plain(card[1], 'A')} ({source_of(given.machine, 'charging_current_a')})"
    excuse = _FULL if full else _excuse(given)
    if excuse and (full or none < 0.5) and enough < CONFIDENCE:
        sentence = f"{reading}: under the card's range, but {excuse}"
        lines.append(Line(title=title, reading=reading, limit=limit, verdict="too_close", sentence=sentence))
        if not full:
            findings.append(Finding("rectified_low", 0.25 * telling(1.0 - enough), text))
        findings.append(Finding("rectified_good", enough, text))
        return
    verdict = call(enough)
    sentence = {
        "pass": f"{reading}: the regulator-rectifier gives what it should.",
        "fail": f"{reading}: {'next to nothing' if none > 0.5 else 'too little'} comes out of the regulator-rectifier.",
    }.get(verdict, f"{reading}: too close to the range's end to call.")
    lines.append(Line(title=title, reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    findings.append(Finding("rectified_low", (1.0 - enough) * (1.0 - none), text))
    findings.append(Finding("rectified_good", enough, text))


def _excuse(given: Given) -> str:
    """Why few amps are no fault of the regulator-rectifier; "" where nothing excuses them."""
    observed = given.observed("output_current")
    machine = given.machine
    least_rpm = machine.rated_speed_rpm - machine.speed_tolerance_rpm
    if observed is not None and observed.speed_rpm is not None and observed.speed_rpm < least_rpm:
        return f"at {observed.speed_rpm:.0f} rpm only: bring the engine to its test speed and read again."
    return ""


def _judge_ripple(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    ripple, output = given.value("ripple_voltage"), given.output_a
    if ripple is None:
        return
    reading = amount(ripple.value, ripple.u, "V")
    most_v = _MOST_RIPPLE_V * given.volts_scale
    title, limit = "Ripple at the battery", f"at most {plain(most_v, 'V')} (common practice, no source)"
    if output is not None and abs(output.value) < _LEAST_A:
        sentence = f"{reading}, but hardly any current flows: ripple says nothing then."
        lines.append(Line(title=title, reading=reading, limit=limit, verdict="not_judged", sentence=sentence))
        return
    over = at_least(ripple.value, ripple.u, most_v)
    battery = given.battery_ohm
    if given.machine.alternator is AlternatorClass.SPLIT:
        _one_way_by_design(title, reading, lines)
        return
    half, how = over, ""
    if battery is not None and output is not None:
        form = ripple.value / (battery.value * abs(output.value))
        half = _half_wave_chance(form, ripple, battery)
        how = f", {form:.2f} times the charging amps by the battery's resistance (full wave 0.48, half wave 1.21)"
    soft = over * (1.0 - half)
    verdict, sentence = _ripple_said(f"{reading}{how}", half, soft)
    lines.append(Line(title=title, reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    text = f"{reading} of ripple at the battery{how}"
    findings += [
        Finding("ripple_high", telling(half, _HALF_FROM), text),
        Finding("ripple_normal", telling(1.0 - max(half, soft), 1.0 - _FINE_UP_TO), text),
        Finding("ripple_of_battery", telling(soft, _SOFT_FROM), text),
    ]


def _one_way_by_design(title: str, reading: str, lines: list[Line]) -> None:
    """Split circuits may charge by half waves on purpose; the card does not say, so these are no sign of a fault."""
    sentence = f"{reading}: split circuits often charge through one diode, so that half waves may be as it was built."
    lines.append(Line(title=title, reading=reading, limit="", verdict="no_limit", sentence=sentence))


def _ripple_said(reading: str, half: float, soft: float) -> tuple[StepVerdict, str]:
    """Verdict and sentence.

    Args:
        reading: with how it compares.
        half: how sure it is that half waves are missing.
        soft: how sure it is that there is too much ripple though no half waves are missing.
    """
    if half >= _HALF_FROM:
        return "fail", f"{reading}: more than a full-wave rectifier makes; one diode is open, most likely."
    if soft >= _SOFT_FROM:
        return "fail", (
            f"{reading}: both half waves come through, but the battery does not smooth them: it is worn, or a clamp "
            "on its posts is bad."
        )
    if max(half, soft) <= _FINE_UP_TO:
        return "pass", f"{reading}: as much as a full-wave rectifier makes."
    return "too_close", f"{reading}: between full and half wave, or near the limit; too close to call."


def _half_wave_chance(form: float, ripple: Measured, battery: Measured) -> float:
    if form <= 0.0:
        return 0.0
    doubt = (
        _FORM_DOUBT**2 + (ripple.u / max(ripple.value, 1e-6)) ** 2 + (battery.u / battery.value) ** 2
    ) ** 0.5
    return at_least(log(form / _FORM_LIMIT), doubt, 0.0)


def _judge_half_waves(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    """With one diode open the winding's current flows one way, and its mean stands across the winding's ohms."""
    found, output, ohm = given.value("plugged_in_dc_voltage"), given.output_a, winding_ohm(given)
    if found is None or given.machine.alternator is AlternatorClass.SPLIT:
        return
    title, reading = "DC volts across the stator, plugged in", amount(found.value, found.u, "V")
    if output is None or ohm is None or abs(output.value) < _LEAST_A:
        sentence = f"{reading}; without amps that flow, and the winding's ohms, that can't be judged."
        lines.append(Line(title=title, reading=reading, limit="", verdict="no_limit", sentence=sentence))
        return
    one_way_v = ohm * abs(output.value)
    share = abs(found.value) / one_way_v
    u = (_EVEN_DOUBT**2 + (found.u / one_way_v) ** 2) ** 0.5
    missing = at_least(share, u, _EVEN_SHARE)
    limit = (
        f"well under {one_way_v:.2f} V, the winding's ohms times the output's amps (follows from the circuit)"
    )
    verdict = call(1.0 - missing)
    sentence = {
        "pass": f"{reading}: both half waves come through.",
        "fail": f"{reading}: the winding's current flows one way only; one diode is open.",
    }.get(verdict, f"{reading}: whether both half waves come through is too close to call.")
    lines.append(Line(title=title, reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    text = f"{reading} DC across the stator's leads, plugged in"
    findings += [
        Finding("half_waves_missing", telling(missing), text),
        Finding("half_waves_even", telling(1.0 - missing), text),
    ]


def _judge_loading(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    """Plugged in, a stator that delivers is pulled down; one that meets a dead end keeps its open volts."""
    plugged, observed = given.value("plugged_in_voltage"), given.observed("output")
    rated = observed.rated.rated_voltage_v if observed is not None and observed.rated is not None else None
    if plugged is None or rated is None or rated <= 0.0:
        return
    share = plugged.value / rated
    reading = f"{amount(plugged.value, plugged.u, 'V')}, {100.0 * share:.0f} % of the unloaded volts"
    unloaded = at_least(share, 0.03 + plugged.u / rated, 0.92)
    loaded = at_most(share, 0.03 + plugged.u / rated, 0.85)
    sentence = (
        "Whether the regulator-rectifier draws on the stator can't be told from so small a drop of its volts."
    )
    if loaded >= CONFIDENCE:
        sentence = "Plugged in, the stator's volts are pulled down: the regulator-rectifier draws on it."
    elif unloaded >= CONFIDENCE:
        sentence = "Plugged in, the stator keeps its open volts: nothing is drawn from it."
    lines.append(
        Line(
            title="Stator volts, plugged in", reading=reading, limit="", verdict="no_limit", sentence=sentence
        )
    )
    text = f"plugged in, the stator stands at {reading}"
    findings += [Finding("stator_unloaded", unloaded, text), Finding("stator_loaded", loaded, text)]
