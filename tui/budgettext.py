"""An uncertainty budget as a table in words, and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from tui.text import clean

if TYPE_CHECKING:
    from daq.rated.budget import Contribution, UncertaintyBudget

__all__ = ["budget_lines", "budget_table"]


def budget_lines(budget: UncertaintyBudget | None) -> list[str]:
    """The budget's lines, the largest contribution first."""
    if budget is None:
        return ["Uncertainty budget: none, as no rated output can be stated."]
    lines = ["Uncertainty budget (JCGM 100), standard uncertainties in V:"]
    for part in _ranked(budget):
        share = 100 * (part.output_uncertainty / budget.standard_uncertainty) ** 2
        lines.append(
            f"  {part.output_uncertainty:8.4f}  {share:3.0f} %  {clean(part.name)} ({part.distribution})"
        )
    lines.append(f"  {budget.standard_uncertainty:8.4f}  combined")
    lines.append(
        f"  {budget.expanded_uncertainty:8.4f}  expanded, k = {budget.coverage_factor:.2f}, "
        f"{100 * budget.coverage_probability:.0f} % coverage"
    )
    lines.extend(f"  {clean(note)}" for note in budget.notes)
    return lines


def budget_table(budget: UncertaintyBudget | None) -> list[dict[str, Any]] | None:
    """The contributions as plain values; None where there is no budget."""
    if budget is None:
        return None
    return [
        {
            "name": part.name,
            "standard_uncertainty": part.standard_uncertainty,
            "unit": part.unit,
            "distribution": part.distribution,
            "sensitivity": part.sensitivity,
            "output_uncertainty_V": part.output_uncertainty,
            "degrees_of_freedom": part.degrees_of_freedom if math.isfinite(part.degrees_of_freedom) else None,
        }
        for part in _ranked(budget)
    ]


def _ranked(budget: UncertaintyBudget) -> list[Contribution]:
    nonzero = (part for part in budget.contributions if part.output_uncertainty > 0)
    return sorted(nonzero, key=lambda part: -part.output_uncertainty)
