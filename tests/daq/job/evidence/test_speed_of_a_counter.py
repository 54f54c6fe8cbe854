"""Speed worked out of a count, for the tests of the job."""

from __future__ import annotations

import numpy as np

from daq.job.evidence.series import speed_series
from daq.model.quantity import Quantity
from daq.run.channels import RunData
from tests.runs import channel_of


def test_where_the_count_begins_anew_there_is_no_speed() -> None:
    time_s = 0.2 * np.arange(20.0)
    turns = 10.0 * np.arange(20.0)
    turns[12:] -= turns[12]
    data = RunData((channel_of(0, Quantity.REVOLUTIONS, time_s, turns),), None)
    found = speed_series(data, [(0.0, 10.0)])
    assert found is not None
    np.testing.assert_allclose(found[1], 3000.0)
    assert len(found[1]) == 18, "one less than there are steps"
    assert not np.any(np.isclose(found[0], 0.5 * (time_s[11] + time_s[12])))
