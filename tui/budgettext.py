"""An uncertainty budget as a table in words, and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from tui.text import clean

if TYPE_CHECKING:
    from daq.rated.budget import Contribution, UncertaintyBudget

__all__ = ["budget_lines", "budget_table"]

_WORDS = (0, 2)
"""Columns that hold words."""
_ENDLESS = 1e6
"""More degrees of freedom than these are as good as infinitely many."""


def budget_lines(budget: UncertaintyBudget | None) -> list[str]:
    """The budget's lines, the largest contribution first."""
    if budget is None:
        return ["Uncertainty budget: none, as no rated output can be stated."]
    head = (
        "contribution",
        "u of the input",
        "distribution",
        "sensitivity",
        "u, V",
        "share",
        "degrees of freedom",
    )
    rows = [head, *(_row(part, budget.standard_uncertainty) for part in _ranked(budget))]
    rows.append(("combined", "", "", "", _number(budget.standard_uncertainty), "100 %", _freedom(budget)))
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    lines = ["Uncertainty budget (JCGM 100):"]
    for row in rows:
        cells = (
            cell.ljust(width) if column in _WORDS else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        lines.append("  " + "  ".join(cells).rstrip())
    lines.append(
        f"  expanded: {_number(budget.expanded_uncertainty)} V, k = {budget.coverage_factor:.2f}, "
        f"{100 * budget.coverage_probability:.0f} % coverage"
    )
    lines.extend(f"  {clean(note)}" for note in budget.notes)
    return lines


def _row(part: Contribution, combined: float) -> tuple[str, ...]:
    per = "" if part.unit == "V" else f" V/{part.unit}"
    return (
        clean(part.name),
        f"{_number(part.standard_uncertainty)} {part.unit}",
        part.distribution,
        f"{part.sensitivity:.4g}{per}",
        _number(part.output_uncertainty),
        f"{100 * (part.output_uncertainty / combined) ** 2:.0f} %",
        f"{part.degrees_of_freedom:.0f}" if math.isfinite(part.degrees_of_freedom) else "infinite",
    )


def _freedom(budget: UncertaintyBudget) -> str:
    effective = budget.effective_degrees_of_freedom
    return f"{effective:.0f}" if effective < _ENDLESS else "infinite"


def _number(value: float) -> str:
    """Two digits that count, without an exponent."""
    if value <= 0.0 or not math.isfinite(value):
        return f"{value:g}"
    return f"{value:.{max(0, 1 - math.floor(math.log10(value)))}f}"


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
