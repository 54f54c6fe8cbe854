"""Before and after: a change counts by the uncertainty of both readings."""

from __future__ import annotations

import pytest

from daq.job.comparison import SlotChange, compare_rounds
from daq.job.status import StepStatus
from tests.daq.job.builders import observed, step_of


def change(u_before: float, u_after: float) -> SlotChange:
    """Half an ampere more after a repair."""

    def status(value: float, u: float, number: int) -> StepStatus:
        reading = observed("output_current", value, u)
        return StepStatus(step_of("rectifier_output"), "pass", None, (reading,), (), "", number)

    (found,) = compare_rounds([status(9.0, u_before, 1)], [status(9.5, u_after, 2)])
    return found


@pytest.mark.parametrize(
    ("u_before", "u_after", "text", "significant"),
    [
        (0.1, 0.1, "+0.5 ± 0.3 A", True),
        (0.1, 0.4, "+0.5 ± 0.8 A", False),
        (0.4, 0.1, "+0.5 ± 0.8 A", False),
        (0.2, 0.2, "+0.5 ± 0.6 A", False),
    ],
)
def test_the_doubt_of_both_readings_counts(
    u_before: float, u_after: float, text: str, significant: bool
) -> None:
    found = change(u_before, u_after)
    assert found.change == text
    assert found.significant is significant
