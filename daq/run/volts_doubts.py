"""Whether the AC volts can be AC volts at all."""

from __future__ import annotations

import numpy as np

from daq.run.channels import ChannelData

__all__ = ["volts_doubts"]

_MOST_V = 1000.0
"""No hand meter is made for more, and no small engine's alternator gives it (common practice, no source)."""


def volts_doubts(volts: ChannelData) -> tuple[str, ...]:
    """Sentences that forbid a verdict; empty where nothing speaks against the volts."""
    value = volts.sample()
    if len(value) == 0:
        return ()
    usual_v = float(np.median(value))
    if float(np.quantile(value, 0.75)) < -0.3:
        return (
            f"The AC volts read negative ({usual_v:.3g} V), and AC volts have no sign: the meter is on DC volts, or "
            "the column is another quantity. Turn it to AC volts (V~), or name the right column.",
        )
    if usual_v > _MOST_V:
        return (
            f"The AC volts are about {usual_v:.0f} V, beyond any hand meter: look at which column and which unit "
            "was taken for volts.",
        )
    return ()
