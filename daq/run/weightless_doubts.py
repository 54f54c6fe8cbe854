"""What many rows that weigh nothing leave of a result: a robust mean that sets them aside may not be sure of itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from daq.rated.budget import Contribution, combine
from daq.rated.output import CountedRows, RatedOutput
from daq.verdict.evidence import Evidence

__all__ = ["with_weightless"]

_MANY = 0.08
"""Share of the rows near rated speed that may be set aside without a word (judgement, common practice, no source)."""
_FEW = 3
_ONE_SIDE = 0.9
"""Share of them on one side from which on they are a level, and not the two ends of a scatter."""
_TOLD = 0.3
"""Share of the expanded uncertainty from which on it is told."""
_MATTERS = 0.005
"""Share of the output under which it is not."""
_NAME = "rows too far off to weigh anything"
_UNSTEADY = "output that does not hold still"


def with_weightless(
    output: RatedOutput, evidence: Evidence, counted: CountedRows
) -> tuple[RatedOutput, Evidence]:
    """The output and the evidence with what the rows set aside say; as they are where these are few.

    Args:
        output: a stated output; what is known to move it is told by that.
        evidence: what else is known.
        counted: the rows that the output was given.
    """
    aside = output.weightless
    if int(aside.sum()) <= _FEW or any(c.name == _UNSTEADY for c in output.budget.contributions):
        return output, evidence
    used = np.abs(counted.speed_rpm / output.rated_speed_rpm - 1.0) <= output.reach
    count, rows = int(aside.sum()), int(used.sum())
    if count <= _MANY * rows:
        return output, evidence
    value = output.rated_voltage_v
    rated = counted.voltage_v * output.rated_speed_rpm / counted.speed_rpm
    below = float(np.mean(rated[aside] < value))
    one_side = max(below, 1.0 - below) >= _ONE_SIDE
    other_v = float(np.median(rated[aside])) if one_side else float(np.mean(rated[used]))
    limit_v = abs(other_v - value)
    more = Contribution.from_limits(_NAME, limit_v)
    budget = replace(combine([*output.budget.contributions, more]), notes=output.budget.notes)
    wide = replace(output, budget=budget)
    if evidence.unpaired or limit_v < max(_TOLD * budget.expanded_uncertainty, _MATTERS * abs(value)):
        return wide, evidence
    said = (
        f"{count} of {rows} rows lie too far from the others to weigh anything: "
        f"{'most of them' if one_side else 'with them all rows'} give {other_v:.2f} V at rated speed, the others "
        f"{value:.2f} V. The difference is in the uncertainty. Hold one steady speed and repeat; if it shows there "
        "too, look for a loose joint, lead or clip, and at the tach's mark."
    )
    return wide, replace(evidence, notes=(said, *evidence.notes))
