"""The words of a report: verdicts with their signs, questions, the method, and numbers with their ±."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from daq.job.sources import METHOD, SOURCES
from daq.job.words import with_wide as job_with_wide
from daq.report.content import Badge, Tone
from daq.verdict.result import Result

__all__ = ["RUN_METHOD", "RUN_SOURCES", "badge_of", "output_words", "program", "quantity_words", "with_wide"]

_STATES: dict[str, tuple[str, Tone]] = {
    "pass": ("Pass", "good"),
    "fail": ("Fail", "bad"),
    "too_close": ("Too close to call", "unsure"),
    "no_limit": ("No limit", "none"),
    "not_enough_data": ("Not enough data", "unsure"),
    "not_judged": ("Not judged", "unsure"),
    "cut_short": ("Cut short", "unsure"),
    "partial": ("Not finished", "unsure"),
    "open": ("Not done", "none"),
    "skipped": ("Skipped", "none"),
    "does_not_apply": ("Does not apply", "none"),
}

RUN_METHOD = (
    "Each AC volts reading is paired with the mean speed over the meter's own window, from counted revolutions, after "
    "the lag between the two instruments was taken out.",
    *(line for line in METHOD if line.startswith(("AC volts are brought", "A limit is met"))),
    "The ± of a run stands for 95 %; its factor k is that of what its contributions make together (JCGM 101:2008).",
)
"""How a run is judged: what of the job's method concerns it, and its own."""

RUN_SOURCES = tuple(line for line in SOURCES if line.startswith(("Uncertainty", "Proportion", "Limits")))


def badge_of(state: str) -> Badge:
    """The verdict of a test, a run or a line."""
    word, tone = _STATES.get(state, (state.replace("_", " "), "none"))
    return Badge(word, tone)


def quantity_words(name: str) -> str:
    """A quantity's name as people say it: "AC volts" is left to sentences, this is for tables."""
    return name.replace("_", " ").replace("ac ", "AC ").replace("dc ", "DC ")


def with_wide(value: float, wide: float | None, unit: str, *, least: bool = False) -> str:
    """A value with its expanded uncertainty, as in "27.58 ± 0.13 V" or, where that is a lower bound, "… at least"."""
    if wide is None:
        return f"{value:.4g} {unit} (± not known)"
    return job_with_wide(value, wide, unit, least=least)


def output_words(result: Result, *, at_speed: bool = False) -> str:
    """A run's rated volts with their ±, and at which speed where that is asked for; "" where there are none."""
    if result.rated_voltage_V is None:
        return ""
    least = bool(result.unknown_errors)
    volts = with_wide(result.rated_voltage_V, result.expanded_uncertainty_V, "V", least=least)
    if not at_speed or result.rated_speed_rpm is None:
        return volts
    return f"{volts}{',' if least else ''} at {result.rated_speed_rpm:.0f} rpm"


def program() -> str:
    """Name and version of what makes the report."""
    try:
        return f"spinvolt {version('spinvolt')}"
    except PackageNotFoundError:
        return "spinvolt"
