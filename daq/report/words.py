"""The words of a report: verdicts with their signs, questions, the method, and numbers with their ±."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version

from daq.job.sources import METHOD, SOURCES
from daq.job.words import decimals_for
from daq.report.content import Badge, Tone

__all__ = ["RUN_METHOD", "RUN_SOURCES", "badge_of", "program", "quantity_words", "with_wide"]

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


def with_wide(value: float, wide: float | None, unit: str) -> str:
    """A value with its expanded uncertainty, as in "27.58 ± 0.13 V"."""
    if wide is None:
        return f"{value:.4g} {unit} (± not known)"
    decimals = decimals_for(wide)
    return f"{value:.{decimals}f} ± {wide:.{decimals}f} {unit}"


def program() -> str:
    """Name and version of what makes the report."""
    try:
        return f"spinvolt {version('spinvolt')}"
    except PackageNotFoundError:
        return "spinvolt"
