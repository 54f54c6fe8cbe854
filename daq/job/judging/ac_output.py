"""Judges the AC output, unloaded, at rated test speed."""

from __future__ import annotations

from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import source_of
from daq.job.evidence.observed import RatedFound
from daq.job.judging.given import Given
from daq.job.judging.verdicts import Finding, Line, StepJudgement, at_least, at_most, call, judged
from daq.job.words import amount, plain
from daq.model.counted import times
from daq.verdict.conformance import conformance_probability

__all__ = ["judge_ac_output"]

_NONE_SHARE = 0.1
_PEAK = 2.0**0.5
"""Peak of a sine over its rms: a rectifier lets nothing through while the peak is under the battery's volts."""
_UNLOADED = (
    "A load or a regulator that is still connected holds the volts down too: see that its AC leads are unplugged, and "
    "repeat, before anything is taken apart."
)
_BEND_SHARE = 0.02
"""Offset of the line of volts against speed, as a share of the output, from which it counts as bent."""


def judge_ac_output(given: Given) -> StepJudgement:
    """Rated volts against the card's minimum, dropouts, and the shape against speed."""
    observed = given.observed("output")
    if observed is None or observed.rated is None:
        return judged(())
    found = observed.rated
    lines: list[Line] = []
    findings: list[Finding] = []
    _judge_volts(given, found, observed.value, lines, findings)
    _judge_dropouts(found, lines, findings)
    _judge_shape(found, lines, findings)
    if given.machine.alternator is AlternatorClass.AC_ONLY:
        _judge_speed(given, found, lines, findings)
    return judged(lines, findings)


def _judge_volts(
    given: Given, found: RatedFound, middle_v: float | None, lines: list[Line], findings: list[Finding]
) -> None:
    machine = given.machine
    least = machine.minimum_ac_voltage_v
    title = f"AC volts at {machine.rated_speed_rpm:.0f} rpm, unloaded"
    limit = (
        ""
        if least is None
        else f"at least {plain(least, 'V')} ({source_of(machine, 'minimum_ac_voltage_v')})"
    )
    dead_v = _NONE_SHARE * (least if least is not None else 10.0)
    value = found.rated_voltage_v
    shown = value if value is not None else middle_v
    if shown is not None and shown < dead_v:
        reading = f"{shown:.2f} V"
        sentence = (
            f"Next to nothing comes from the stator ({reading}): an open winding, or the leads are not on it."
        )
        lines.append(Line(title=title, reading=reading, limit=limit, verdict="fail", sentence=sentence))
        findings.append(Finding("ac_none", 1.0, f"only {reading} AC at the stator's leads"))
        return
    if value is None:
        sentence = " ".join(("The output at rated speed can't be stated.", *found.reasons[:2]))
        lines.append(
            Line(title=title, reading="not known", limit=limit, verdict="not_judged", sentence=sentence)
        )
        return
    reading = found.words
    if least is None:
        sentence = f"{reading} at rated speed; the card has no limit for it: the service manual does."
        lines.append(
            Line(title=title, reading=found.full_words, limit="", verdict="no_limit", sentence=sentence)
        )
        return
    freedom = found.degrees_of_freedom if found.degrees_of_freedom is not None else float("inf")
    good = conformance_probability(value, found.u_rated_voltage_v, least, freedom)
    verdict = call(good)
    sentence = {
        "pass": f"{reading}: the alternator itself gives what it should.",
        "fail": f"{reading}: the alternator itself gives too little, if nothing was connected to it. {_UNLOADED}",
    }.get(verdict, f"{reading}: too close to the limit to call.")
    lines.append(Line(title=title, reading=found.full_words, limit=limit, verdict=verdict, sentence=sentence))
    text = f"{reading}{',' if found.at_least else ''} AC at rated speed, {plain(least, 'V')} are needed"
    charges = given.machine.alternator is None or given.machine.alternator.charges
    if charges:
        below = at_most(_PEAK * value, _PEAK * found.u_rated_voltage_v, given.nominal_v)
        findings.append(Finding("ac_below_battery", below, text))
    findings += [Finding("ac_good", good, text), Finding("ac_low", 1.0 - good, text)]


def _judge_speed(given: Given, found: RatedFound, lines: list[Line], findings: list[Finding]) -> None:
    """Where nothing is charged no other test says whether the engine reaches its test speed."""
    machine, highest = given.machine, found.highest_speed_rpm
    if highest is None:
        return
    least = machine.rated_speed_rpm - machine.speed_tolerance_rpm
    reached = highest >= least
    reading = f"{highest:.0f} rpm"
    sentence = "The engine reaches its test speed."
    if not reached:
        sentence = (
            f"The engine came to {reading} only: with the throttle at its stop, governor or linkage hold it."
        )
    lines.append(
        Line(
            title="Highest speed of the run",
            reading=reading,
            limit=f"at least {least:.0f} rpm ({source_of(machine, 'rated_speed_rpm')})",
            verdict="pass" if reached else "fail",
            sentence=sentence,
        )
    )
    text = f"the engine reaches {reading} of {machine.rated_speed_rpm:.0f} rpm"
    findings.append(Finding("speed_at_test" if reached else "speed_below_test", 1.0, text))


def _judge_dropouts(found: RatedFound, lines: list[Line], findings: list[Finding]) -> None:
    if not found.dropouts:
        return
    often = times(found.dropouts)
    text = f"the AC volts fell away {often} while the engine ran, {found.dropout_s:.1f} s in all"
    sentence = f"{text[0].upper()}{text[1:]}: a joint opens now and then, or a clip of the meter does."
    lines.append(Line(title="Dropouts", reading=often, limit="none", verdict="fail", sentence=sentence))
    findings.append(Finding("ac_dropouts", 1.0 if found.dropouts > 1 else 0.7, text))


def _judge_shape(found: RatedFound, lines: list[Line], findings: list[Finding]) -> None:
    """A sound winding gives volts in proportion to speed; shorted turns hold them down as the speed rises."""
    value, offset, u = found.rated_voltage_v, found.offset_v, found.u_offset_v
    if value is None or offset is None or u is None or value <= 0.0:
        return
    most = _BEND_SHARE * value
    bent = at_least(offset, u, most)
    straight = max(0.0, at_most(offset, u, most) - at_most(offset, u, -most))
    reading = amount(offset, u, "V", signed=True)
    text = f"the line of volts against speed meets zero speed at {reading}"
    findings += [Finding("ac_bends", bent, text), Finding("ac_straight", straight, text)]
    if bent > 0.95:
        sentence = f"The volts lag behind the speed as it rises (offset {reading}): shorted turns do that."
        lines.append(
            Line(
                title="Volts against speed", reading=reading, limit="", verdict="no_limit", sentence=sentence
            )
        )
