"""How a job is judged, and where that comes from, in sentences for a report."""

from __future__ import annotations

from daq.job.physics.copper import NO_INSULATION_TEST
from daq.job.physics.peukert import RATED_HOURS

__all__ = ["METHOD", "SOURCES"]

METHOD = (
    "Each reading carries a standard uncertainty from its scatter, the instrument's limits of error, and its last "
    "digit (JCGM 100:2008). The ± stands for about 95 % (twice the standard uncertainty); that of a "
    "recorded AC output for 95 %, with the factor k of what its contributions make together (JCGM 101:2008), as "
    "`spinvolt result` has it.",
    "A limit is met where the probability of that is at least 95 %, and missed where it is at most 5 %; between, it is "
    "too close to call (JCGM 106:2012, guarded acceptance).",
    "AC volts are brought to rated speed in proportion to speed, unloaded only.",
    "Resistance has the meter's leads taken off and is brought to 20 °C by copper's temperature coefficient.",
    "Readings that come unevenly are averaged over time, not over their number; gaps count for nothing.",
    "Faults are ranked by a table of what supports and what contradicts each; both are shown.",
    NO_INSULATION_TEST,
)

SOURCES = (
    "Uncertainty: JCGM 100:2008 (GUM). Judging: JCGM 106:2012, ILAC-G8:09/2019.",
    "Proportion of open-circuit volts to speed: IEC 60034-4-1, IEEE 115.",
    "Copper: IEC 60034-1 (resistance method), IEEE 112 (k = 234.5).",
    "State of charge at rest: battery-trade tables, which disagree, hence a band.",
    f"Hours to flat: {RATED_HOURS}.",
    "Full-wave and half-wave ripple: by definition of the rectified sine. DC across a plugged-in winding: its "
    "resistance times the mean of its current, which is nothing where both half waves come through.",
    "Limits: the machine card, each with the source that it names. Whatever names none is common practice, no source.",
)
