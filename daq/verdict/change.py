"""Two results side by side: how much the rated output changed, and whether the change is significant.

The two uncertainties are combined as if independent (JCGM 100:2008, 5.1.2).
Where both runs used the same instruments, a part of their errors is common and
falls out of the difference, so that the interval is then wider than it need be:
a change called significant is so all the more.
"""

from __future__ import annotations

import math

import msgspec

from daq.rated.budget import student_factor
from daq.verdict.result import Result

__all__ = ["Change", "compare_results"]

_PROBABILITY = 0.95


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """The fields of ``compare --json``. None where something can't be known."""

    before: Result
    after: Result
    change_V: float | None = None
    """Rated output after less before."""
    change_percent: float | None = None
    """The same as a percentage of before."""
    standard_uncertainty_V: float | None = None
    expanded_uncertainty_V: float | None = None
    coverage_factor: float | None = None
    coverage_probability: float = _PROBABILITY
    effective_degrees_of_freedom: float | None = None
    """None where it is infinite or unknown."""
    significant: bool | None = None
    """The change is larger than its expanded uncertainty."""
    same_machine: bool | None = None
    """False where the two machine cards differ: then no repair is judged by it; None where a card is missing."""
    loads_differ: bool | None = None
    """True where one run shows that a load or a regulator was connected and the other does not; False where both
    show volts in proportion to speed; None where it can't be told."""
    reasons: list[str] = []


def compare_results(before: Result, after: Result) -> Change:
    """Compare two runs at rated speed."""
    obstacle = _obstacle(before, after)
    if obstacle:
        return Change(before=before, after=after, reasons=[obstacle])
    first_v, second_v = before.rated_voltage_V or 0.0, after.rated_voltage_V or 0.0
    u_first, u_second = before.standard_uncertainty_V or 0.0, after.standard_uncertainty_V or 0.0
    u = math.hypot(u_first, u_second)
    freedom = _freedom(
        (u_first, before.effective_degrees_of_freedom), (u_second, after.effective_degrees_of_freedom)
    )
    factor = student_factor(freedom, _PROBABILITY)
    change = second_v - first_v
    significant = abs(change) > factor * u
    return Change(
        before=before,
        after=after,
        change_V=change,
        change_percent=100.0 * change / first_v if first_v else None,
        standard_uncertainty_V=u,
        expanded_uncertainty_V=factor * u,
        coverage_factor=factor,
        effective_degrees_of_freedom=freedom if math.isfinite(freedom) else None,
        significant=significant,
        reasons=_reasons(change, factor * u, significant, before, after),
    )


def _obstacle(before: Result, after: Result) -> str:
    silent = [
        name
        for name, result in (("before", before), ("after", after))
        if result.rated_voltage_V is None or result.standard_uncertainty_V is None
    ]
    if len(silent) == 2:
        return "Neither run states a rated output, so there is no change to state."
    if silent:
        other = "after" if silent == ["before"] else "before"
        return (
            f"The run {silent[0]} states no rated output, the run {other} does: there is no change to state."
        )
    if before.rated_speed_rpm != after.rated_speed_rpm:
        return (
            f"The runs are for different rated speeds, {before.rated_speed_rpm:g} rpm before and "
            f"{after.rated_speed_rpm:g} rpm after: use the same machine card for both."
        )
    return ""


def _freedom(*parts: tuple[float, float | None]) -> float:
    """Effective degrees of freedom (JCGM 100:2008, G.4.1); infinite where no part has a finite number."""
    total = math.fsum(u**2 for u, _ in parts)
    finite = math.fsum(u**4 / freedom for u, freedom in parts if freedom is not None)
    return total**2 / finite if finite > 0 else math.inf


def _reasons(change: float, expanded: float, significant: bool, before: Result, after: Result) -> list[str]:
    amount = f"{abs(change):.2f} V ± {expanded:.2f} V"
    unknown = dict.fromkeys((*before.unknown_errors, *after.unknown_errors))
    amount += " at least" if unknown else ""
    if significant:
        said = [
            f"The rated output {'rose' if change > 0 else 'fell'} by {amount}: the change is significant."
        ]
    else:
        said = [f"The rated output changed by {amount}: no more than the uncertainty, so nothing is shown."]
    if unknown:
        said.append(
            f"The {' and the '.join(unknown)} of a run has an unknown error of its own, which is not in that ±: where "
            "both runs were read with the same instruments it is nearly the same in both; where not, it can be what "
            "changed."
        )
    if before.verdict != after.verdict:
        said.append(f"The verdict went from {_words(before)} to {_words(after)}.")
    return said


def _words(result: Result) -> str:
    return result.verdict.replace("_", " ")
