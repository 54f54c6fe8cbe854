"""When the lag of a run that goes on is worth estimating anew, which costs more than all the rest.

A lag that is known is looked at again when there is a good deal more to see
than the last time. One that the run does not show is looked for again when
the speed has moved since, for at steady speed it can't be seen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["lag_due", "speed_moved"]

_AGAIN_S = 10.0
"""Least session time between two estimates of a lag that is known."""
_MORE = 0.5
"""New share of the kept readings that is a good deal."""
_UNSEEN_AGAIN_S = 2.0
"""Least session time between two estimates while the run does not show it."""
_MOVED = 0.01
"""Share of the speed between its lowest and highest reading, more than a tach scatters (judgement, common practice, no
source)."""


def lag_due(since_s: float, kept_s: float, *, determined: bool, moved: bool) -> bool:
    """Whether to estimate the lag.

    Args:
        since_s: session time since the last estimate.
        kept_s: how long the stretch is that is looked at.
        determined: the last estimate found it.
        moved: the speed has moved since.
    """
    if not determined and moved:
        return since_s >= _UNSEEN_AGAIN_S
    return since_s >= max(_AGAIN_S, _MORE * kept_s)


def speed_moved(speed_rpm: NDArray[np.float64]) -> bool:
    """Whether these speed readings are not of one speed.

    Args:
        speed_rpm: shape (n,); NaN where a reading has no value.
    """
    known = speed_rpm[np.isfinite(speed_rpm)]
    return len(known) > 1 and float(np.ptp(known)) > _MOVED * float(np.max(np.abs(known)))
