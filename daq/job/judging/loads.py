"""Judges what the loads draw, and how the battery bears them."""

from __future__ import annotations

from msgspec.structs import replace

from daq.cards.open_points import source_of
from daq.job.judging.given import Given, Measured
from daq.job.judging.verdicts import Finding, Line, StepJudgement, at_least, at_most, call, judged, telling
from daq.job.words import amount, plain

__all__ = ["judge_loads"]

_SPARE = 1.1
_ALL_ON = 0.7
"""Of the card's sum; with less than that not all loads were on (common practice, no source)."""
_MOST_SAG_V = 1.0
_AMPS_SHARE = 1.0 / 3.0
"""Of the capacity, in A per Ah: a load so large may pull a 12 V battery down by 1 V, a smaller one by less."""
_LEAST_A = 0.5
_NOTHING_A = 0.1
_TURNED = "its leads are the other way round, and the amount is taken without its sign."


def judge_loads(given: Given) -> StepJudgement:
    """The amps against the card's sum with a tenth to spare; the sag against one volt at 12 V."""
    lines: list[Line] = []
    findings: list[Finding] = []
    load = given.value("load_current")
    if load is not None:
        _judge_current(given, Measured(abs(load.value), load.u), lines, findings)
        if load.value < -2.0 * load.u:
            sentence = f"{lines[-1].sentence} The meter read {load.value:g} A: {_TURNED}"
            lines[-1] = replace(lines[-1], sentence=sentence)
    _judge_sag(given, lines, findings)
    return judged(lines, findings)


def _judge_current(given: Given, load: Measured, lines: list[Line], findings: list[Finding]) -> None:
    reading = amount(load.value, load.u, "A")
    known = given.loads_a
    if known is None:
        sentence = "The card lists no loads: put each load and its amps into the card to have them judged."
        lines.append(Line(title="Loads", reading=reading, limit="", verdict="no_limit", sentence=sentence))
        return
    within, all_on = (
        at_most(load.value, load.u, _SPARE * known),
        at_least(load.value, load.u, _ALL_ON * known),
    )
    verdict = call(within)
    sentence = {
        "pass": f"The loads draw {reading}, as the card's list says.",
        "fail": f"The loads draw {reading}, more than the {plain(known, 'A')} on the card: something was added, "
        "or a load draws too much.",
    }.get(verdict, f"The loads draw {reading}: too close to the most that the card's list allows to call.")
    if call(all_on) == "fail":
        verdict = "not_judged"
        sentence = (
            f"The loads draw only {reading} of the {plain(known, 'A')} on the card: not all of them were on, or one "
            "gets no current. Switch all on, ignition too, and read again."
        )
    elif verdict == "pass" and call(all_on) == "too_close":
        verdict = "too_close"
        sentence = (
            f"The loads draw {reading} of the {plain(known, 'A')} on the card: whether all of them were on is too "
            "close to call."
        )
    limit = f"at most {plain(round(_SPARE * known, 2), 'A')} ({source_of(given.machine, 'load')}, a tenth to spare)"
    lines.append(Line(title="Loads", reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    text = f"the loads draw {reading}; the card lists {plain(known, 'A')}"
    findings.append(Finding("loads_above_card", telling(1.0 - within), text))
    if known > 0.3 and load.value < _NOTHING_A:
        findings.append(Finding("loads_dead", 1.0, f"the loads draw only {reading}"))
    else:
        findings.append(Finding("loads_within_card", within * all_on, text))


def _judge_sag(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    rest, loaded = given.value("rest_voltage"), given.value("loaded_voltage")
    if loaded is None:
        return
    if rest is None:
        sentence = "Without the volts at rest the drop under load can't be judged."
        reading = amount(loaded.value, loaded.u, "V")
        lines.append(
            Line(title="Battery under load", reading=reading, limit="", verdict="no_limit", sentence=sentence)
        )
        return
    sag, u = rest.value - loaded.value, (rest.u**2 + loaded.u**2) ** 0.5
    if given.machine.battery is not None and not given.machine.battery.lead_acid:
        lines.append(_unjudged_sag(f"gives way by {amount(sag, u, 'V')}"))
        return
    most_v, why = _most_sag_v(given)
    holds = at_most(sag, u, most_v)
    reading = f"gives way by {amount(sag, u, 'V')}"
    verdict = call(holds)
    said = {"pass": "it bears them.", "fail": "more than a sound one should."}
    sentence = (
        f"Under its loads the battery {reading}: {said.get(verdict, 'too close to the limit to call.')}"
    )
    limit = f"at most {plain(round(most_v, 2), 'V')} within five seconds ({why}common practice, no source)"
    lines.append(
        Line(title="Battery under load", reading=reading, limit=limit, verdict=verdict, sentence=sentence)
    )
    findings.append(Finding("battery_holds", telling(holds), f"under load the battery {reading} only"))
    findings.append(Finding("battery_sags", telling(1.0 - holds), f"under load the battery {reading}"))


def _unjudged_sag(reading: str) -> Line:
    sentence = (
        f"Under its loads the battery {reading}. How far one that is no lead-acid battery may give way, its "
        "maker's data say; the usual volt is for lead-acid."
    )
    return Line(title="Battery under load", reading=reading, limit="", verdict="no_limit", sentence=sentence)


def _most_sag_v(given: Given) -> tuple[float, str]:
    """How far a sound battery gives way at most under what was switched on, and why it is less than usual."""
    usual_v = _MOST_SAG_V * given.volts_scale
    battery, load = given.machine.battery, given.value("load_current")
    if battery is None or battery.capacity_ah is None or load is None or abs(load.value) < _LEAST_A:
        return usual_v, ""
    share = abs(load.value) / (_AMPS_SHARE * battery.capacity_ah)
    if share >= 1.0:
        return usual_v, ""
    return (
        share * usual_v,
        f"{plain(usual_v, 'V')} at a load of a third of its capacity, less at a smaller one; ",
    )
