"""Judges the winding: resistance, wiggle test, and its path to ground."""

from __future__ import annotations

from daq.cards.machine_parts import AlternatorClass
from daq.cards.open_points import source_of
from daq.job.judging.given import Given, Measured
from daq.job.judging.verdicts import (
    CONFIDENCE,
    Finding,
    Line,
    StepJudgement,
    StepVerdict,
    at_least,
    at_most,
    judged,
)
from daq.job.physics.copper import K_COPPER_C, NO_INSULATION_TEST, at_20_degrees
from daq.job.streams.opens import LEAST_WATCH_S
from daq.job.words import amount, plain
from daq.model.counted import counted

__all__ = ["judge_resistance", "judge_to_ground", "judge_wiggle", "winding_at_20_degrees", "winding_ohm"]

_OPEN_OHM = 10_000.0
_UNKNOWN_LEADS_OHM = 0.25
"""Half of what a pair of meter leads can have; taken off, and doubted by as much, where none was read."""
_UNKNOWN_TEMPERATURE_C = 15.0
_LEAK_OHM = 1e6


def winding_at_20_degrees(given: Given) -> tuple[Measured, tuple[str, ...]] | None:
    """The winding's resistance with the leads taken off, at 20 °C, and what was assumed.

    The meter's fixed error goes with the lead reading and falls out; without
    one it stays, and so does a guess at the leads.
    """
    observed, lead = given.observed("winding_resistance"), given.observed("lead_resistance")
    if observed is None or observed.value is None:
        return None
    assumed = []
    if lead is not None and lead.value is not None:
        ohm = observed.value - lead.value
        u2 = observed.u_without_counts() ** 2 + lead.scatter_u**2 + lead.digit**2 / 12.0
    else:
        ohm = observed.value - _UNKNOWN_LEADS_OHM
        u2 = observed.u**2 + _UNKNOWN_LEADS_OHM**2 / 3.0
        assumed.append("The meter's own leads were not read; 0.25 Ω were taken off, give or take as much.")
    temperature = given.value("winding_temperature")
    at_c, u_c = 20.0, _UNKNOWN_TEMPERATURE_C / 3.0**0.5
    if temperature is not None:
        at_c, u_c = temperature.value, max(temperature.u, 1.0)
    else:
        assumed.append("The winding's temperature was not read; 20 °C were taken, give or take 15 °C.")
    at_20 = at_20_degrees(ohm, at_c)
    scale = at_20_degrees(1.0, at_c)
    u2 = u2 * scale**2 + (at_20 * u_c / (K_COPPER_C + at_c)) ** 2
    return Measured(at_20, float(u2**0.5)), tuple(assumed)


def winding_ohm(given: Given) -> float | None:
    """The winding's resistance as measured, at 20 °C, else the middle of the card's range; None without either."""
    found, card = winding_at_20_degrees(given), given.machine.winding_resistance_ohm
    if found is not None and 0.0 < found[0].value < _OPEN_OHM:
        return found[0].value
    return 0.5 * (card[0] + card[1]) if card is not None else None


def judge_resistance(given: Given) -> StepJudgement:
    """Open, too low, too high, or within the card's range at 20 °C."""
    title = "Winding resistance at 20 °C"
    observed = given.observed("winding_resistance")
    if observed is None:
        return judged(())
    card = given.machine.winding_resistance_ohm
    limit = ""
    if card is not None:
        source = source_of(given.machine, "winding_resistance_ohm")
        limit = f"{card[0]:g} to {plain(card[1], 'ohm')} ({source})"
    found = winding_at_20_degrees(given)
    if found is None or found[0].value > _OPEN_OHM:
        sentence = "No path from one stator lead to the other: the winding, or a joint in it, is open."
        line = Line(title=title, reading="open", limit=limit, verdict="fail", sentence=sentence)
        return judged([line], [Finding("winding_open", 1.0, "no path between the stator's leads")])
    measured, assumed = found
    reading = amount(measured.value, measured.u, "ohm")
    findings = [
        Finding("winding_whole", 1.0, f"{reading} between the stator's leads: the winding has a path")
    ]
    if card is None:
        sentence = " ".join(
            (f"{reading}: the winding has a path; the card has no range to judge it by.", *assumed)
        )
        return judged(
            [Line(title=title, reading=reading, limit="", verdict="no_limit", sentence=sentence)], findings
        )
    low = at_most(measured.value, measured.u, card[0])
    high = at_least(measured.value, measured.u, card[1])
    text = f"{reading} at 20 °C, {card[0]:g} to {plain(card[1], 'ohm')} are right"
    findings += [
        # A wide reading may be either: only what one side is likelier than the other says anything.
        Finding("winding_low", max(0.0, low - high), text),
        Finding("winding_high", max(0.0, high - low), text),
        Finding("winding_in_range", max(0.0, 1.0 - low - high), text),
    ]
    verdict = _in_range(low, high)
    said = {
        "pass": f"{reading}: as it should be. A few shorted turns may hide within the range.",
        "fail": f"{reading}: too {'low, shorted turns' if low > high else 'high, a bad joint'}.",
    }.get(verdict, f"{reading}: too close to the range's end to call.")
    line = Line(
        title=title, reading=reading, limit=limit, verdict=verdict, sentence=" ".join((said, *assumed))
    )
    return judged([line], findings)


def _in_range(low: float, high: float) -> StepVerdict:
    """Pass where both ends are met; fail only where one of them is surely passed: a wide reading is neither."""
    if 1.0 - low - high >= CONFIDENCE:
        return "pass"
    return "fail" if max(low, high) >= CONFIDENCE else "too_close"


def judge_wiggle(given: Given) -> StepJudgement:
    """No opening in a minute; one is a finding."""
    counted = given.value("wiggle_count")
    watched = given.observed("wiggle_watch")
    if watched is None:
        return judged(()) if counted is None else _wiggled(round(counted.value), "", LEAST_WATCH_S)
    openings = watched.openings
    away_s = sum(each.length_s for each in openings)
    if watched.overload or away_s > 0.9 * max(watched.span_s, 0.1):
        sentence = "The circuit was open all the time: find the open winding first, then wiggle."
        line = Line(
            title="Wiggle test", reading="open", limit="no opening", verdict="not_judged", sentence=sentence
        )
        return judged(
            [line], [Finding("winding_open", 1.0, "no path between the stator's leads, wiggled or not")]
        )
    lengths = ", ".join(f"{each.length_s:.1f}" for each in openings[:6])
    more = " and more" if len(openings) > 6 else ""
    return _wiggled(len(openings), f", for {lengths}{more} s" if openings else "", watched.span_s)


def _wiggled(count: int, lengths: str, span_s: float) -> StepJudgement:
    reading = f"{counted(count, 'opening')} in {span_s:.0f} s{lengths}"
    common = {
        "title": "Wiggle test",
        "reading": reading,
        "limit": "no opening in a minute (common practice, no source)",
    }
    if count:
        sentence = (
            f"The circuit opened while it was wiggled ({reading}): the joint under your fingers is at fault."
        )
        line = Line(**common, verdict="fail", sentence=sentence)
        return judged([line], [Finding("wiggle_opens", 1.0, f"the wiggle test had {reading}")])
    enough = min(1.0, span_s / (0.9 * LEAST_WATCH_S))
    if enough < 1.0:
        sentence = f"No opening, but only {span_s:.0f} s were watched; a minute of wiggling is needed."
        line = Line(**common, verdict="too_close", sentence=sentence)
    else:
        line = Line(**common, verdict="pass", sentence="No opening in a minute of wiggling.")
    return judged([line], [Finding("wiggle_steady", enough, f"the wiggle test had {reading}")])


def judge_to_ground(given: Given) -> StepJudgement:
    """No path to the engine block, where the winding is meant to have none."""
    observed = given.observed("ground_resistance")
    if observed is None:
        return judged(())
    open_circuit = observed.overload or (observed.value or 0.0) >= _LEAK_OHM
    reading = "open" if open_circuit else amount(observed.value or 0.0, observed.u, "ohm")
    title, limit = "Winding to ground", "open, for a winding that is not grounded on purpose"
    alternator = given.machine.alternator
    if not open_circuit and alternator in {AlternatorClass.AC_ONLY, AlternatorClass.SPLIT}:
        sentence = f"{reading} to the engine block: on this kind often on purpose; the service manual says."
        return judged([Line(title=title, reading=reading, limit="", verdict="no_limit", sentence=sentence)])
    if open_circuit:
        line = Line(
            title=title,
            reading=reading,
            limit=limit,
            verdict="pass",
            sentence=f"No path to ground. {NO_INSULATION_TEST}",
        )
        return judged([line], [Finding("insulated", 1.0, "no path from the winding to the engine block")])
    clear = (observed.value or 0.0) < 1000.0
    sentence = f"{reading} from the winding to the engine block: it touches ground. {NO_INSULATION_TEST}"
    if not clear:
        sentence = (
            f"{reading} to the engine block: dirt, damp or a finger on a tip; clean, dry and read again."
        )
    line = Line(
        title=title, reading=reading, limit=limit, verdict="fail" if clear else "too_close", sentence=sentence
    )
    return judged(
        [line],
        [Finding("grounded", 1.0 if clear else 0.4, f"{reading} from the winding to the engine block")],
    )
