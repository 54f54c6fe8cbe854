"""Judges the charging test: does the battery gain at test speed, do its volts rise, is the speed reached."""

from __future__ import annotations

from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import source_of
from daq.job.judging.given import Given, Measured
from daq.job.judging.held_back import stands_high
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
from daq.job.words import amount, plain

__all__ = ["judge_charging", "least_contribution_a"]

_MOVED_V = 0.1
_FELL_V = 0.25
_TRICKLE_A = 0.5
"""Less than that, either way, may be a full battery and a meter's zero (common practice, no source)."""


def judge_charging(given: Given) -> StepJudgement:
    """Amps, volts and speed, each on a line of its own."""
    lines: list[Line] = []
    findings: list[Finding] = []
    _judge_speed(given, lines, findings)
    _judge_current(given, lines, findings)
    _judge_volts(given, lines, findings)
    _judge_idle(given, lines)
    return judged(lines, findings)


def least_contribution_a(given: Given) -> float:
    """Amps under which the alternator gives next to nothing: half an ampere, or a twentieth of its least."""
    charging = given.machine.charging_current_a
    return max(0.5, 0.05 * charging[0]) if charging is not None else 0.5


def _speed(given: Given) -> Measured | None:
    found = given.value("governed_speed")
    if found is not None:
        return found
    for slot in ("current_work", "voltage_work"):
        observed = given.observed(slot)
        if observed is not None and observed.speed_rpm is not None:
            return Measured(observed.speed_rpm, 0.001 * observed.speed_rpm)
    return None


def _judge_speed(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    speed = _speed(given)
    if speed is None:
        return
    machine = given.machine
    least = machine.rated_speed_rpm - machine.speed_tolerance_rpm
    most = machine.rated_speed_rpm + machine.speed_tolerance_rpm
    reached, held = at_least(speed.value, speed.u, least), at_most(speed.value, speed.u, most)
    reading = amount(speed.value, speed.u, "rpm")
    verdict = call(min(reached, held))
    sentence = f"The engine reaches {reading}, its test speed."
    if verdict == "too_close":
        sentence = f"The engine reaches {reading}: too close to the end of its test speed's range to call."
    elif reached < 0.5:
        sentence = (
            f"The engine reaches only {reading} of {machine.rated_speed_rpm:.0f} rpm: governor, throttle linkage or "
            "engine, before the alternator is blamed."
        )
    elif held < 0.5:
        sentence = (
            f"The engine runs at {reading}, over its test speed: have the governor set before going on."
        )
    limit = f"{least:.0f} to {most:.0f} rpm ({source_of(machine, 'rated_speed_rpm')})"
    lines.append(Line(title="Engine speed", reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    text = f"the engine reaches {reading} of {machine.rated_speed_rpm:.0f} rpm"
    findings.append(Finding("speed_at_test", reached, text))
    findings.append(Finding("speed_below_test", 1.0 - reached, text))


def _judge_current(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    current = given.value("current_work")
    if current is None:
        return
    gains = at_least(current.value, current.u, 0.0)
    reading = amount(current.value, current.u, "A", signed=True)
    verdict, sentence = _current_said(given, current, gains, reading)
    lines.append(
        Line(
            title="Amps into the battery at test speed",
            reading=reading,
            limit="above 0 A with the loads on",
            verdict=verdict,
            sentence=sentence,
        )
    )
    text = f"at test speed {reading} flow into the battery"
    findings.append(Finding("charging_good", gains, text))
    if verdict == "not_judged":
        findings.append(
            Finding("readings_disagree", 1.0, f"{text}, yet its volts are held up: repeat charging")
        )
    elif verdict == "fail" or stands_high(given) <= 1.0 - CONFIDENCE:
        _judge_contribution(given, telling(1.0 - gains), text, findings)


def _current_said(given: Given, current: Measured, gains: float, reading: str) -> tuple[StepVerdict, str]:
    """Verdict and sentence; at volts that are held, a full battery takes nothing and can't give anything either."""
    verdict = call(gains)
    if verdict == "pass":
        return verdict, f"At test speed {reading} flow into the battery: it gains with the loads on."
    clearly_out = at_most(current.value, current.u, -_TRICKLE_A) >= CONFIDENCE
    if clearly_out and stands_high(given) >= CONFIDENCE:
        return "not_judged", (
            f"At test speed {reading} flow, out of the battery, while its volts stand within the charging range: both "
            "can't be true. The ammeter's leads are the other way round, or the two were not read in the same state; "
            "read both again."
        )
    if not clearly_out and stands_high(given) > 1.0 - CONFIDENCE:
        return "too_close", (
            f"At test speed {reading} flow, and the volts stand within the charging range: the battery is nearly full "
            "and takes hardly anything. What the alternator could give shows only with more loads on, or with the "
            "battery partly discharged."
        )
    if verdict == "fail":
        return verdict, f"At test speed {reading} flow: the battery loses with the loads on."
    return verdict, f"At test speed {reading} flow: whether the battery gains is too close to call."


def _judge_contribution(given: Given, loses: float, text: str, findings: list[Finding]) -> None:
    """How much the alternator adds where the battery loses: next to nothing, or too little."""
    contribution = given.contribution
    if contribution is None:
        findings.append(Finding("charging_weak", 0.5 * loses, text))
        return
    none = at_most(contribution.value, contribution.u, least_contribution_a(given))
    share = amount(contribution.value, contribution.u, "A")
    findings.append(Finding("charging_none", loses * none, f"the alternator adds only {share}"))
    findings.append(
        Finding(
            "charging_weak",
            loses * (1.0 - none),
            f"the alternator adds {share}, less than the loads take",
        )
    )


def _judge_volts(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    volts, rest = given.value("voltage_work"), given.value("rest_voltage")
    if volts is None:
        return
    reading = amount(volts.value, volts.u, "V")
    card = given.machine.charging_voltage_v
    sentence, verdict = f"{reading} stand at the battery at test speed.", call(1.0)
    limit = ""
    if card is not None:
        held = at_most(volts.value, volts.u, card[1])
        limit = f"at most {plain(card[1], 'V')} ({source_of(given.machine, 'charging_voltage_v')})"
        verdict = call(held)
        if verdict == "fail":
            sentence = f"{reading} stand at the battery: {_not_held(given)}"
        elif verdict == "too_close":
            sentence = f"{reading} stand at the battery: too close to the most allowed to call."
        findings.append(Finding("overcharging", 1.0 - held, f"{reading} stand at the battery at test speed"))
        full = at_least(volts.value, volts.u, card[0])
        findings.append(
            Finding("volts_regulated", full * held, f"{reading} at the battery, within the charging range")
        )
    if rest is not None:
        rise, u = volts.value - rest.value, (volts.u**2 + rest.u**2) ** 0.5
        words = amount(rise, u, "V", signed=True)
        step = _MOVED_V * given.volts_scale
        findings.append(Finding("volts_rise", at_least(rise, u, step), f"{words} against the volts at rest"))
        findings.append(
            Finding(
                "volts_fall",
                at_most(rise, u, -_FELL_V * given.volts_scale),
                f"{words} against the volts at rest",
            )
        )
        sentence += f" That is {words} against rest."
    elif card is None:
        verdict = "no_limit"
    battery = given.machine.battery
    if card is None and battery is not None and not battery.lead_acid:
        verdict = "no_limit"
        sentence += (
            " Whether it may stand so high, the data of the battery's maker say: it is no lead-acid one."
        )
    lines.append(
        Line(
            title="Battery volts at test speed",
            reading=reading,
            limit=limit,
            verdict=verdict,
            sentence=sentence,
        )
    )


def _not_held(given: Given) -> str:
    if given.machine.alternator is AlternatorClass.DC_ONLY:
        return "nothing holds them back on this kind; a full battery is taken off the charge."
    return "the regulator does not hold the volts back."


def _judge_idle(given: Given, lines: list[Line]) -> None:
    current = given.value("current_idle")
    if current is None:
        return
    reading = amount(current.value, current.u, "A", signed=True)
    verdict = call(at_least(current.value, current.u, 0.0))
    what = {"pass": "gains", "fail": "loses"}.get(verdict, "neither gains nor loses, within the reading")
    lines.append(
        Line(
            title="Amps into the battery at idle",
            reading=reading,
            limit="",
            verdict="no_limit",
            sentence=f"At idle {reading} flow: the battery {what}. Whether that matters, the charge budget says.",
        )
    )
