"""Judges the battery at rest."""

from __future__ import annotations

from daq.job.judging.given import Given
from daq.job.judging.verdicts import Finding, Line, StepJudgement, StepVerdict, judged
from daq.job.physics.rest_voltage import ChargeBand, charge_band
from daq.job.words import amount

__all__ = ["band_of", "judge_battery_rest"]

_HALF = 0.5
_SAYS_LITTLE = 0.6
"""Width of a band that leaves nearly all states of charge open: it is no answer then (our choice)."""
_COARSE_V = 0.05
"""Last digit of a 12 V battery's reading from which one step of it is a fifth of all charge and more."""
_DEAD_CELL_V = 10.8
"""Of a 12 V battery: five cells' worth and a little (common practice, no source)."""


def band_of(given: Given) -> ChargeBand | None:
    """The battery's state of charge; None without rest volts, or without a lead-acid battery in the card."""
    rest, battery = given.value("rest_voltage"), given.machine.battery
    if rest is None or battery is None or not battery.lead_acid:
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
        if given.machine.battery is not None:
            sentence = (
                f"{reading} at rest. The battery is no lead-acid one, and the tables of rest volts are for those: its "
                "charge is not judged. What its maker's data or its own display say counts."
            )
        return judged(
            [Line(title="Battery at rest", reading=reading, limit="", verdict="no_limit", sentence=sentence)]
        )
    above = _share_above_half(band)
    open_ = _says_little(band)
    words = f"anything from {band.words}" if open_ else band.charged_words
    line = Line(
        title="Battery at rest",
        reading=f"{reading}, {words}",
        limit="about half charged (common practice, no source)",
        verdict="too_close" if open_ else _verdict(band),
        sentence=_too_wide(given, band, reading) if open_ else _sentence(band),
    )
    text = f"the battery rests at {reading}: {words}"
    findings = [Finding("battery_charged", above, text), Finding("battery_low", 1.0 - above, text)]
    if rest.value + 2.0 * rest.u < _DEAD_CELL_V * given.volts_scale:
        findings.append(
            Finding("battery_dead_cell", 1.0, f"the battery rests at {reading}: flat, or a dead cell")
        )
    return judged([line], findings)


def _says_little(band: ChargeBand) -> bool:
    return band.high - band.low >= _SAYS_LITTLE


def _too_wide(given: Given, band: ChargeBand, reading: str) -> str:
    """What the reading would say by itself, why it does not, and what narrows it."""
    rest, battery, observed = (
        given.value("rest_voltage"),
        given.machine.battery,
        given.observed("rest_voltage"),
    )
    if rest is None or battery is None or observed is None:
        return _sentence(band)
    temperature = given.value("battery_temperature")
    exact = charge_band(rest.value, 0.0, battery, 26.7 if temperature is None else temperature.value)
    coarse = observed.digit >= _COARSE_V * given.volts_scale
    advice = ["read again with two decimals, on a lower range of the dial"] if coarse else []
    if temperature is None:
        advice.append("read the battery's temperature too")
    if battery.chemistry is None:
        advice.append("put the battery's chemistry into the machine card")
    if not advice:
        advice.append("read again with a meter whose card states a smaller error")
    how = ", read so coarsely," if coarse else ""
    return (
        f"Taken as exact these volts would be {exact.charged_words}, but {reading}{how} "
        f"leaves anything from {band.words}: no state of charge can be told. To know it, {' and '.join(advice)}."
    )


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
