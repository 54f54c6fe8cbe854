"""Judges wiring, connectors and fuse between the regulator-rectifier and the battery."""

from __future__ import annotations

from daq.job.judging.given import Given, Measured
from daq.job.judging.verdicts import Finding, Line, StepJudgement, at_most, call, judged, telling
from daq.job.words import amount, plain

__all__ = ["judge_wiring"]

_MOST_DROP_V = 0.5
_LEAST_A = 1.0
_LIVE_SHARE = 0.8
_DEAD_SHARE = 0.3
_FUSE_OHM = 1.0
_TURNED = "its leads are the other way round, and the amount is taken without its sign."


def judge_wiring(given: Given) -> StepJudgement:
    """Battery volts at the output terminal, the fuse, and the drop while charging."""
    lines: list[Line] = []
    findings: list[Finding] = []
    _judge_terminal(given, lines, findings)
    _judge_fuse(given, lines, findings)
    _judge_drop(given, lines, findings)
    return judged(lines, findings)


def _judge_terminal(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    terminal = given.value("terminal_voltage")
    if terminal is None:
        return
    rest = given.value("rest_voltage")
    share = terminal.value / (rest.value if rest is not None and rest.value > 1.0 else given.nominal_v)
    reading = amount(terminal.value, terminal.u, "V")
    live = min(1.0, max(0.0, (share - _DEAD_SHARE) / (_LIVE_SHARE - _DEAD_SHARE)))
    verdict = call(live)
    sentence = {
        "pass": "The battery's volts reach the output terminal: fuse and wire are whole.",
        "fail": f"Only {reading} at the output terminal: fuse, connector or wire is open, or the ignition is off.",
    }.get(
        verdict,
        f"{reading} at the output terminal: too close to call between a whole way and an open one; read again with "
        "the ignition on.",
    )
    text = f"{reading} at the output terminal with the engine stopped"
    limit = "the battery's volts, ignition on"
    lines.append(
        Line(
            title="Volts at the output terminal",
            reading=reading,
            limit=limit,
            verdict=verdict,
            sentence=sentence,
        )
    )
    findings += [Finding("terminal_live", live, text), Finding("terminal_dead", 1.0 - live, text)]


def _judge_fuse(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    fuse = given.observed("fuse_resistance")
    if fuse is None:
        return
    whole = 0.0 if fuse.overload else at_most((fuse.value or 0.0) - _lead_ohm(given), fuse.u, _FUSE_OHM)
    reading = "open" if fuse.overload else amount(fuse.value or 0.0, fuse.u, "ohm")
    verdict = call(whole)
    sentence = {
        "pass": "The fuse is whole.",
        "fail": "The fuse is open. Find out what blew it before another goes in.",
    }.get(verdict, f"{reading}: whether the fuse is whole is too close to call; read it on the lowest range.")
    limit = f"under {plain(_FUSE_OHM, 'ohm')} (common practice, no source)"
    lines.append(
        Line(title="Charging fuse", reading=reading, limit=limit, verdict=verdict, sentence=sentence)
    )
    text = f"the charging fuse reads {reading}"
    findings += [
        Finding("fuse_whole", telling(whole), text),
        Finding("fuse_open", telling(1.0 - whole), text),
    ]


def _lead_ohm(given: Given) -> float:
    lead = given.value("lead_resistance")
    return 0.0 if lead is None else lead.value


def _judge_drop(given: Given, lines: list[Line], findings: list[Finding]) -> None:
    drop, output, turned = given.value("drop_voltage"), given.output_a, ""
    if drop is None:
        return
    if -_DEAD_SHARE * given.nominal_v <= drop.value < -drop.u:
        turned = f" The meter read {drop.value:g} V: {_TURNED}"
        drop = Measured(-drop.value, drop.u)
    reading = amount(drop.value, drop.u, "V")
    title = "Drop from output terminal to battery"
    most_v = _MOST_DROP_V * given.volts_scale
    limit = f"at most {plain(most_v, 'V')} (common practice, no source)"
    if drop.value < -_DEAD_SHARE * given.nominal_v:
        sentence = (
            f"{reading}: the battery's own volts, against a dead terminal; fuse, connector or wire is open."
        )
        lines.append(Line(title=title, reading=reading, limit=limit, verdict="fail", sentence=sentence))
        findings.append(Finding("terminal_dead", 1.0, f"{reading} from the output terminal to the battery"))
        return
    if output is not None and abs(output.value) < _LEAST_A and drop.value < most_v:
        sentence = f"{reading}, but hardly any current flows: there is nothing to drop.{turned}"
        lines.append(Line(title=title, reading=reading, limit=limit, verdict="not_judged", sentence=sentence))
        return
    small = at_most(drop.value, drop.u, most_v)
    verdict = call(small)
    said = {
        "pass": f"{reading} are lost on the way: little enough.",
        "fail": f"{reading} are lost on the way: a connector or wire is bad.",
    }
    sentence = said.get(verdict, f"{reading} are lost on the way: too close to the limit to call.") + turned
    lines.append(Line(title=title, reading=reading, limit=limit, verdict=verdict, sentence=sentence))
    text = f"{reading} are lost between output terminal and battery"
    findings += [
        Finding("drop_small", telling(small), text),
        Finding("drop_large", telling(1.0 - small), text),
    ]
