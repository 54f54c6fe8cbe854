"""The charge budget in plain words first, the numbers after."""

from __future__ import annotations

from daq.job.charge.budget import ChargeBudget
from daq.job.judging.given import Measured
from daq.job.judging.verdicts import at_least, call
from daq.job.words import amount

__all__ = ["budget_lines", "budget_sentence"]


def budget_sentence(budget: ChargeBudget | None) -> str:
    """One sentence: can it carry its loads?"""
    if budget is None:
        return "Whether it can carry its loads is not known: neither output nor loads were read."
    if budget.at_work is None:
        return "Whether it can carry its loads is not known: the amps at work speed were not read."
    gains = _gain_at_least if budget.at_least_only else _gain
    parts = [f"At work speed it {gains(budget.at_work)}"]
    if budget.at_idle is not None:
        parts.append(f"at idle it {_gain(budget.at_idle)}")
    if budget.idle_share and budget.over_the_day is not None and budget.at_idle is not None:
        parts.append(_day(budget, budget.over_the_day))
    return "; ".join(parts) + "."


def budget_lines(budget: ChargeBudget | None) -> tuple[str, ...]:
    """The sentence, then what follows from it, then the numbers it rests on."""
    lines = [budget_sentence(budget)]
    if budget is None:
        return tuple(lines)
    if budget.drop:
        lines.append(budget.drop)
    if budget.break_even is not None:
        lines.append(budget.break_even.words)
    if budget.hours is not None:
        lines.append(f"Going on like this the battery is {budget.hours.words}. {budget.hours.method}")
    if budget.drawn.by_load:
        how = "measured" if budget.drawn.measured else "by the card"
        all_on, mean = budget.drawn.all_on, budget.drawn.mean
        lines.append(
            f"Loads: {amount(all_on.value, all_on.u, 'A')} all on ({how}), {amount(mean.value, mean.u, 'A')} on the "
            "average of the running time."
        )
    if budget.chance is not None:
        least = " at least" if budget.at_least_only else ""
        lines.append(f"Chance that it gains over the day: {_percent(budget.chance)}{least}.")
    return (*lines, *budget.notes)


def _gain(net: Measured) -> str:
    verdict = call(at_least(net.value, net.u, 0.0))
    if verdict == "too_close":
        return f"neither gains nor loses, within the reading ({amount(net.value, net.u, 'A', signed=True)})"
    what = "gains" if verdict == "pass" else "loses"
    return f"{what} {amount(abs(net.value), net.u, 'A')}"


def _gain_at_least(net: Measured) -> str:
    """What is gained where the regulator held back: it could be more."""
    verdict, said = call(at_least(net.value, net.u, 0.0)), amount(net.value, net.u, "A", signed=True)
    if verdict == "pass":
        return f"gains at least {amount(net.value, net.u, 'A')}"
    if verdict == "too_close":
        return f"gives at least what the loads draw, within the reading ({said}; the regulator held back)"
    return f"comes out at {said} at least (the regulator held back)"


def _day(budget: ChargeBudget, day: Measured) -> str:
    share = f"with {100.0 * (budget.idle_share or 0.0):.0f} % idling"
    size = amount(abs(day.value), day.u, "A")
    if budget.carries == "too_close":
        return f"{share} it comes out at {amount(day.value, day.u, 'A', signed=True)}, too close to call"
    if budget.carries == "not_known":
        least = amount(day.value, day.u, "A", signed=True)
        return f"{share} it comes out at {least} at least: whether it gains is not known, as the regulator held back"
    if budget.carries == "yes":
        still = "still " if budget.at_idle is not None and budget.at_idle.value < 0.0 else ""
        return f"{share} it {still}gains {size}"
    return f"{share} it loses {size}"


def _percent(chance: float) -> str:
    if chance > 0.999:
        return "over 99.9 %"
    return "under 0.1 %" if chance < 0.001 else f"{100.0 * chance:.1f} %"
