"""Judges the battery at rest."""

from __future__ import annotations

from daq.job.judging.given import Given
from daq.job.judging.verdicts import Finding, Line, StepJudgement, StepVerdict, judged
from daq.job.physics.rest_voltage import ChargeBand, charge_band
from daq.job.words import amount

__all__ = ["band_of", "judge_battery_rest"]

_HALF = 0.5
_DEAD_CELL_V = 10.8
"""Of a 12 V battery: five cells' worth and a little (common practice, no source)."""


def band_of(given: Given) -> ChargeBand | None:
    """The battery's state of charge; None without rest volts or without a battery in the card."""
    rest, battery = given.value("rest_voltage"), given.machine.battery
    if rest is None or battery is None:
        return None
    temperature = given.value("battery_temperature")
    return charge_band(rest.value, rest.u, battery, None if temperature is None else temperature.value)


def judge_battery_rest(given: Given) -> StepJudgement:
    """At least half charged, by a band; far too few volts point to a dead cell."""
    rest = given.value("rest_voltage")
    if rest is None:
        return judged(())
    reading = amount(rest.value, rest.u, "V")
    band = band_of(given)
    if band is None:
        sentence = "The card names no battery, so the volts can't be turned into a state of charge."
        return judged(
            [Line(title="Battery at rest", reading=reading, limit="", verdict="no_limit", sentence=sentence)]
        )
    above = _share_above_half(band)
    line = Line(
        title="Battery at rest",
        reading=f"{reading}, {band.charged_words}",
        limit="about half charged (common practice, no source)",
        verdict=_verdict(band),
        sentence=_sentence(band),
    )
    text = f"the battery rests at {reading}: {band.charged_words}"
    findings = [Finding("battery_charged", above, text), Finding("battery_low", 1.0 - above, text)]
    if rest.value + 2.0 * rest.u < _DEAD_CELL_V * given.volts_scale:
        findings.append(
            Finding("battery_dead_cell", 1.0, f"the battery rests at {reading}: flat, or a dead cell")
        )
    return judged([line], findings)


def _share_above_half(band: ChargeBand) -> float:
    if band.high <= band.low:
        return 1.0 if band.low >= _HALF else 0.0
    return min(1.0, max(0.0, (band.high - _HALF) / (band.high - band.low)))


def _verdict(band: ChargeBand) -> StepVerdict:
    if band.middle >= _HALF:
        return "pass"
    return "fail" if band.high < _HALF else "too_close"


def _sentence(band: ChargeBand) -> str:
    if band.middle >= _HALF:
        return f"The battery is {band.charged_words}: good enough for the charging tests."
    return (
        f"The battery is {band.charged_words}: charge it before the charging tests are trusted. "
        "If it does not hold the charge, it is worn."
    )
