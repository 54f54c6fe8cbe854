"""What a tach that scatters by itself leaves of a result: in the uncertainty, or nothing judged."""

from __future__ import annotations

from dataclasses import replace

from daq.align.pairing import Pairing
from daq.align.streams import PlacedStreams
from daq.rated.budget import Contribution, combine
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import RatedOutput
from daq.rated.tach_scatter import WILD, TachScatter, find_tach_scatter
from daq.run.channels import RunData
from daq.run.follow_doubts import speed_track, volts_track
from daq.verdict.evidence import Evidence

__all__ = ["with_tach_scatter"]

_MOST = 0.01
"""Share of the speed: where one-sided scatter may do more than this, nothing is judged (judgement, no source)."""
_TOLD = 0.3
"""Share of the expanded uncertainty from which on it is told."""
_NAME = "marks that the tach may have missed"
_ADVICE_BOTH = "Hold one steady speed with one clean mark on the flywheel, and repeat."
_ADVICE = "Put on one clean mark, aim from nearer, shade it from lamps, and repeat."


def with_tach_scatter(
    output: RatedOutput,
    evidence: Evidence,
    data: RunData,
    streams: PlacedStreams,
    pairing: Pairing,
    limits: tuple[InstrumentLimits, InstrumentLimits],
) -> tuple[RatedOutput, Evidence]:
    """The output and the evidence with what the tach's own scatter does to them.

    Args:
        output: a stated output.
        evidence: what else is known; beside another doubt nothing more is said.
        data: the run.
        streams: its volts and speed, placed.
        pairing: their alignment.
        limits: the meter's and the tach's.
    """
    if evidence.in_doubt or streams.counted:
        return output, evidence
    lag, (meter, tach) = pairing.lag, limits
    marks = (
        data.speed.card.marks_per_revolution
        if data.speed is not None and data.speed.card is not None
        else None
    )
    known = lag.determined and not lag.rivals_s
    found = find_tach_scatter(
        speed_track(streams, pairing, tach),
        volts_track(streams, pairing, meter),
        lag_known=known,
        together=known or not data.own_clocks,
        marks_per_revolution=float(marks or 1),
        sampled=pairing.parameters.tach_model == "sampled",
    )
    if found is None:
        return output, evidence
    if found.kind == "wild" or found.at_least > _MOST:
        return output, replace(evidence, in_doubt=(_refusal(found),))
    wide = _widened(output, found.half_width)
    half_width_v = found.half_width * abs(output.rated_voltage_v)
    if half_width_v < _TOLD * wide.budget.expanded_uncertainty:
        return wide, evidence
    return wide, replace(evidence, notes=(_note(found, half_width_v), *evidence.notes))


def _widened(output: RatedOutput, share: float) -> RatedOutput:
    budget, rpm = output.budget, output.rated_speed_rpm
    more = Contribution.from_limits(_NAME, share * rpm, sensitivity=-output.rated_voltage_v / rpm, unit="rpm")
    return replace(output, budget=replace(combine([*budget.contributions, more]), notes=budget.notes))


def _refusal(found: TachScatter) -> str:
    sd = f"{100.0 * found.sd:.1f} %"
    if found.or_engine:
        return (
            f"The tach's readings scatter by {sd} (one standard deviation) around the volts beside them, and the lag "
            "between the two is not known: either the engine hunts faster than the instruments read, or the tach "
            f"misses marks. Nothing is judged. {_ADVICE_BOTH}"
        )
    if found.kind == "wild":
        return (
            f"The tach's readings scatter by {sd} (one standard deviation) while the volts beside them do not, more "
            f"than the {100.0 * WILD:.0f} % up to which a mean can be relied on: it misses the mark at times, or "
            f"counts something else. Nothing is judged. {_ADVICE}"
        )
    side, other, makes = ("below", "above", "high") if found.low else ("above", "below", "low")
    cause = "misses the mark now and then" if found.low else "counts something else now and then"
    return (
        f"The tach's readings scatter to one side: beside the volts they reach far {side} the others and hardly "
        f"{other} them ({sd}, one standard deviation), as a tach does that {cause}. Its mean is off then, perhaps by "
        f"{100.0 * found.half_width:.1f} %, and the volts at rated speed come out too {makes}, so nothing is judged. "
        f"{_ADVICE}"
    )


def _note(found: TachScatter, half_width_v: float) -> str:
    if found.or_engine:
        return (
            f"Volts and speed differ by {100.0 * found.sd:.1f} % (one standard deviation), and the lag between them is "
            "not known: either the engine hunts faster than the instruments read, or the tach misses marks. For that "
            f"±{half_width_v:.2g} V is in the uncertainty. {_ADVICE_BOTH}"
        )
    return (
        f"The tach scatters by {100.0 * found.sd:.1f} % by itself: for marks that it may have missed, "
        f"±{half_width_v:.2g} V is in the uncertainty. {_ADVICE}"
    )
