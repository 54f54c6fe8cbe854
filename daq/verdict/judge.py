"""From a rated output to a verdict, with the reasons in words (JCGM 106:2012).

Guarded acceptance by default: *pass* where the probability that the true
output meets the limit is at least 95 %, *fail* where it is at most 5 %, and
*too close to call* between, with what would decide it. ``simple`` compares
plainly, for manuals that mean it so. An output that would pass, but is reckoned
from speeds too far away for anybody to know whether it holds, is *not enough
data*: it is stated with its uncertainty, but held against nothing.
"""

from __future__ import annotations

import math
from typing import Literal

from msgspec.structs import replace

from daq.align.lag import LagEstimate
from daq.rated.budget import Contribution
from daq.rated.output import RatedOutput
from daq.verdict.conformance import conformance_probability, guard_band
from daq.verdict.evidence import Evidence
from daq.verdict.findings import findings
from daq.verdict.result import Result, Verdict

__all__ = ["Rule", "judge"]

Rule = Literal["guarded", "simple"]

_CONFIDENCE = 0.95
_ONE_SPEED = (
    "If anything was still connected, this says nothing of the alternator: from one steady speed, a load or a "
    "regulator that holds the volts down looks the same. See that the alternator's AC leads are unplugged, and "
    "make one sweep up and down: unloaded volts follow the speed."
)
_BENDS = (
    "The volts bend away from proportion, as a load or a regulator that is still connected makes them: see that the "
    "alternator's AC leads are unplugged, and repeat, before anything is taken apart."
)
_IN_PROPORTION = (
    "A load of plain resistance, such as a lamp on the AC leads, holds the volts down in proportion too: see that "
    "nothing is connected before anything is taken apart."
)
_NO_VOLTS = (
    "Nothing comes out: a lead that touches nothing or a meter on another function looks the same. See that the meter "
    "is on AC volts and its leads touch bare metal of the alternator's AC wires, before anything is taken apart."
)
_FAR = 0.12
"""Share of rated speed beyond which one steady speed passes nothing (judgement, common practice, no source)."""
_FAR_SEEN = 0.3
"""The same where the volts were seen in proportion up to there; the bend beyond is in the uncertainty too."""
_NOTHING = 0.02
"""Share of the limit under which volts are none."""
_SAG = 0.03
"""From this share on a sag is more than a meter's band makes of it (common practice, no source)."""


def judge(output: RatedOutput | None, evidence: Evidence, *, rule: Rule = "guarded") -> Result:
    """Judge a run.

    Args:
        output: the rated output; None where too few rows count.
        evidence: what else is known of the run.
        rule: guarded acceptance or plain comparison.
    """
    common = _common(evidence)
    said = findings(output, evidence)
    if output is None or not output.scaled or evidence.loaded or evidence.in_doubt:
        return replace(common, verdict="not_enough_data", reasons=said)
    budget = output.budget
    u, freedom = budget.standard_uncertainty, budget.effective_degrees_of_freedom
    verdict: Verdict = "no_limit"
    probability: float | None = None
    if evidence.minimum_v is not None:
        chance = conformance_probability(output.rated_voltage_v, u, evidence.minimum_v, freedom)
        probability = chance
        verdict = _verdict(output.rated_voltage_v, evidence.minimum_v, chance, rule)
        too_far = verdict == "pass" and _too_far(output)
        across = not too_far and _drifts_across(output, evidence.minimum_v)
        if too_far:
            verdict, probability = "not_enough_data", None
        elif across:
            verdict = "too_close"
        if verdict != "pass" and evidence.charging:
            return replace(common, verdict="not_enough_data", reasons=said)
        said = [
            _far_sentence(output, evidence.minimum_v)
            if too_far
            else _across_sentence(output, evidence.minimum_v)
            if across
            else _verdict_sentence(output, evidence, evidence.minimum_v, chance, verdict, rule),
            *said,
        ]
        if verdict == "pass":
            said.append(
                "This clears the alternator's winding and magnets, unloaded; regulator-rectifier, wiring and "
                "battery are not tested by it."
            )
        if evidence.battery_v is None:
            said[1:1] = _still_connected(output, evidence.minimum_v, verdict)
        if verdict == "too_close":
            said.insert(1, what_would_decide(output, evidence.minimum_v))
    else:
        said = ["No minimum AC volts are known for this machine: its service manual gives them.", *said]
    line = output.proportion.line
    return replace(
        common,
        rated_voltage_V=output.rated_voltage_v,
        standard_uncertainty_V=u,
        expanded_uncertainty_V=budget.expanded_uncertainty,
        coverage_factor=budget.coverage_factor,
        coverage_probability=budget.coverage_probability,
        effective_degrees_of_freedom=freedom if freedom < 1e7 else None,
        volts_per_1000rpm=1000.0 * output.rated_voltage_v / output.rated_speed_rpm,
        offset_V=line.offset if line else None,
        offset_u_V=line.u_offset if line else None,
        conformance_probability=probability,
        verdict=verdict,
        reasons=said,
    )


def _still_connected(output: RatedOutput, minimum: float, verdict: Verdict) -> list[str]:
    """What else than a weak alternator the volts may show, where too little was seen; at most one sentence."""
    shape = output.proportion
    if verdict == "pass":
        return []
    if abs(output.rated_voltage_v) < _NOTHING * minimum:
        return [_NO_VOLTS]
    if shape.line is None:
        return [_ONE_SPEED]
    if shape.sag is not None and shape.u_sag is not None and shape.sag > max(3.0 * shape.u_sag, _SAG):
        return [_BENDS]
    return [_IN_PROPORTION] if verdict == "fail" else []


def _common(evidence: Evidence) -> Result:
    """What a result says with or without a rated output."""
    lag: LagEstimate | None = evidence.lag
    seen = lag is not None and lag.determined and not lag.rivals_s
    return Result(
        rated_speed_rpm=evidence.rated_speed_rpm,
        lag_s=lag.lag_s if seen and lag else None,
        lag_u_s=evidence.lag_u_s if seen else None,
        pole_pairs=evidence.pole_pairs,
        minimum_V=evidence.minimum_v,
        rows=evidence.rows,
        rows_rejected=evidence.rows_rejected,
    )


def _too_far(output: RatedOutput) -> bool:
    """Nobody saw whether the volts go on rising up to rated speed."""
    seen = output.proportion.line is not None
    return output.nearest_share > (_FAR_SEEN if seen else _FAR)


def _drifts_across(output: RatedOutput, minimum: float) -> bool:
    """The output moved slowly from one side of the limit to the other: no one number of it can be judged."""
    drift = output.drift
    return drift is not None and drift.low_v < minimum <= drift.high_v


def _across_sentence(output: RatedOutput, minimum: float) -> str:
    drift = output.drift
    if drift is None:
        return ""
    way = "falls" if drift.falls else "rises"
    return (
        f"The output at {output.rated_speed_rpm:.0f} rpm {way} across the limit of {minimum:.2f} V during the run, "
        f"from {drift.begin_v:.2f} V at the beginning to {drift.end_v:.2f} V at the end, so their mean is not judged."
    )


def _far_sentence(output: RatedOutput, minimum: float) -> str:
    value, rated = f"{output.rated_voltage_v:.2f} V", f"{output.rated_speed_rpm:.0f} rpm"
    return (
        f"{value} at {rated} is reckoned from {100.0 * output.nearest_share:.0f} % away and would meet the limit of "
        f"{minimum:.2f} V only if the volts go on rising in proportion, which this run does not show: iron, a load or "
        "a regulator may hold them. That is too far from rated speed to judge. Hold the engine near "
        f"{rated}, or sweep up and down to there, to decide it."
    )


def _verdict(value: float, minimum: float, probability: float, rule: Rule) -> Verdict:
    if rule == "simple":
        return "pass" if value >= minimum else "fail"
    if probability >= _CONFIDENCE:
        return "pass"
    return "fail" if probability <= 1.0 - _CONFIDENCE else "too_close"


def _verdict_sentence(
    output: RatedOutput,
    evidence: Evidence,
    minimum: float,
    probability: float,
    verdict: Verdict,
    rule: Rule,
) -> str:
    places = decimals_for(output.budget.expanded_uncertainty)
    value = f"{output.rated_voltage_v:.{places}f} V ± {output.budget.expanded_uncertainty:.{places}f} V"
    limit = f"{minimum:.2f} V"
    known = evidence.meter_known and evidence.tach_known
    value += "" if known else " at least,"
    if rule == "simple":
        word = "meets" if verdict == "pass" else "is under"
        return f"{value} at {output.rated_speed_rpm:.0f} rpm {word} the limit of {limit}, compared plainly."
    if verdict == "pass":
        chance = _chance(probability, known)
        return f"{value} at {output.rated_speed_rpm:.0f} rpm meets the limit of {limit} ({chance})."
    if verdict == "fail":
        chance = _chance(1.0 - probability, known)
        return f"{value} at {output.rated_speed_rpm:.0f} rpm is under the limit of {limit} ({chance})."
    return (
        f"{value} at {output.rated_speed_rpm:.0f} rpm is too close to the limit of {limit} to call: "
        f"the chance that it is met is {100.0 * probability:.0f} %."
    )


def decimals_for(width: float) -> int:
    """Decimals that show two digits of a width, at least two and at most five."""
    if not 0.0 < width < 1.0:
        return 2
    return min(5, max(2, 1 - math.floor(math.log10(width))))


def _chance(probability: float, known: bool) -> str:
    """How sure; nothing is beyond doubt by instruments whose accuracy nobody knows."""
    if known:
        return "beyond doubt" if probability > 0.9995 else f"{100.0 * probability:.1f} % sure"
    sure = "over 99.9" if probability > 0.9995 else f"{100.0 * probability:.1f}"
    return f"{sure} % sure if the instruments read true"


def what_would_decide(output: RatedOutput, minimum: float) -> str:
    """One sentence: what would bring a result out of the grey zone."""
    if output.drift is not None:
        return "Let it run until the volts hold still, and measure there, to decide it."
    margin = abs(output.rated_voltage_v - minimum)
    needed = margin / guard_band(1.0, _CONFIDENCE)
    largest = output.budget.largest
    if largest is None:
        return "The value lies on the limit: no measurement decides it."
    rest = output.budget.standard_uncertainty**2 - largest.output_uncertainty**2
    room = needed**2 - max(rest, 0.0)
    if room <= 0.0:
        return (
            f"The output lies within {margin:.{decimals_for(margin)}f} V of the limit, less than these "
            "instruments can tell apart: "
            "measure again with a more accurate meter and tach, or take the manual's next test."
        )
    allowed = room**0.5
    return _advice(largest, allowed, output)


def _advice(largest: Contribution, allowed: float, output: RatedOutput) -> str:
    """What would bring the largest contribution down to what is allowed, in volts of the output."""
    limit = allowed * 3.0**0.5 / abs(largest.sensitivity)  # largest has an effect, so it is not zero
    if largest.name == "scatter of the readings":
        longer = output.span_s * ((largest.output_uncertainty / allowed) ** 2 - 1.0)
        return f"Hold the engine near rated speed for about {max(longer, 5.0):.0f} s more to decide it."
    if largest.name.startswith(("accuracy of the meter", "last digit of the meter")):
        return f"A meter with limits of ±{limit:.2g} V at this reading, or better, would decide it."
    if largest.name == "how the tach averages":
        return "A card for the tach that says how it averages, or a steady speed, would decide it."
    if largest.name == "how long the meter averages":
        return (
            "A card for the meter that says over which time it averages, or a steady speed, would decide it."
        )
    if largest.name == "which shift is right":
        return "A run whose speed does not repeat itself, or both instruments logged by one device, would decide it."
    if largest.name == "tach that smooths more than assumed":
        return f"A steady speed near {output.rated_speed_rpm:.0f} rpm, or a slower sweep, would decide it."
    if largest.name == "marks that the tach may have missed":
        return "Put on one clean mark, aim from nearer, shade it from lamps, and repeat, to decide it."
    if "tach" in largest.name:
        return f"A tach good to ±{limit:.2g} rpm, or better, would decide it."
    if largest.name.startswith("lag"):
        return "Hold a steady speed, or make one slow sweep up and down so that the lag shows, to decide it."
    if largest.name == "rows too far off to weigh anything":
        return f"Hold one steady speed near {output.rated_speed_rpm:.0f} rpm and repeat, to decide it."
    if largest.name == "output that does not hold still":
        return "Find what makes the output move, as its own sentence says, and repeat, to decide it."
    return f"Take readings nearer to {output.rated_speed_rpm:.0f} rpm to decide it."
