"""The findings of a run in sentences for a mechanic; each with its usual causes.

The causes named are general trade practice ("common practice, no source").
"""

from __future__ import annotations

from daq.align.marks import Mark
from daq.model.counted import counted
from daq.rated.output import NEAR, RatedOutput
from daq.verdict.evidence import Evidence
from daq.verdict.result import METER_UNKNOWN, TACH_UNKNOWN

__all__ = ["findings"]

_MARK_WORDS = {
    Mark.NO_VALUE: "without a value (overload, blank or a bad frame)",
    Mark.INSTRUMENT_FLAGGED: "flagged by the meter itself",
    Mark.NO_SPEED: "without speed readings near enough (a gap, or before the first or after the last)",
    Mark.FALSE_SPEED: "resting on false tach readings",
    Mark.VOLTAGE_SPIKE: "volts that jumped alone",
    Mark.DROPOUT: "volts that fell away while the engine ran",
    Mark.STUCK: "standing still to the digit while the other instrument moved",
    Mark.STOPPED: "with the tach under 200 rpm, as beside an engine that stands",
    Mark.BRIDGED: "with a tach reading missing",
    Mark.TOO_QUICK: "while the speed changed too fast for the tach to show it",
    Mark.REPEATED: "only repeating the reading before",
    Mark.APART: "too far from the others at rated speed to weigh anything",
}

_NO_VOLTS_V = 0.3


def findings(output: RatedOutput | None, evidence: Evidence) -> list[str]:
    """Sentences, the gravest first."""
    said: list[str] = []
    said += evidence.in_doubt
    said += _missing(output, evidence)
    said += _load(output, evidence)
    said += _dropouts(evidence)
    if output is not None and not evidence.in_doubt:
        said += _distance(output)
        said += [] if evidence.unpaired else _shape(output)
    said += _lag(output, evidence)
    said += _instruments(evidence)
    said += _kept_out(evidence)
    said += evidence.notes
    return said


def _missing(output: RatedOutput | None, evidence: Evidence) -> list[str]:
    if not evidence.has_volts:
        return ["There are no AC volts readings in this run."]
    if not evidence.has_speed:
        return [_no_speed(evidence)]
    if evidence.rated_speed_rpm is None:
        return ["No rated test speed is known: name a machine card with --machine."]
    if output is None:
        usable = evidence.rows - evidence.rows_rejected
        return [
            f"Only {counted(usable, 'row counts', 'rows count')}; at least 8 are needed to state a rated output."
        ]
    return []


def _no_speed(evidence: Evidence) -> str:
    said = "There are no speed readings in this run, so the volts can't be brought to rated speed."
    if evidence.frequency_hz is None:
        return f"{said} Add a tach, or look whether it sends, and repeat."
    hertz, pairs = evidence.frequency_hz, evidence.card_pole_pairs
    speed = (
        f" ({hertz:.1f} Hz and the card's {pairs} pole pairs would be {60.0 * hertz / pairs:.0f} rpm)"
        if pairs
        else ""
    )
    return (
        f"{said} The frequency alone is not taken for the speed{speed}, for nothing would show a wrong number of pole "
        "pairs. Add a tach, or look whether it sends, and repeat."
    )


def _load(output: RatedOutput | None, evidence: Evidence) -> list[str]:
    said = []
    if evidence.loaded:
        said.append(_current_that_flowed(evidence.load_current_a or 0.0))
    elif output is not None and output.proportion.held_v is not None and not evidence.in_doubt:
        said.append(
            f"The volts rise with the speed and then stay at about {output.proportion.held_v:.1f} V while it goes on: "
            "a regulator or a load that is still connected holds them. Unplug the alternator's AC leads and repeat."
        )
    elif output is not None and not output.scaled and not evidence.in_doubt:
        said.append(
            "The volts do not follow the speed, so they were not scaled to rated speed. Usual causes: a load or "
            "the regulator-rectifier is still connected, or the meter is not on AC volts."
        )
    if evidence.charging and not evidence.loaded:
        said.append(
            f"The battery stood at {evidence.battery_v:.1f} V while the engine ran, as when it is charged: the "
            "regulator is likely still connected, and holds the alternator's volts down. Unplug the AC leads."
        )
    if evidence.discharge_a is not None:
        said.append(
            f"The battery gave {evidence.discharge_a:.1f} A (amps into it read positive): its own loads do not load "
            "the alternator. If the ammeter was the other way round, this was charging and the result does not hold."
        )
    return said


def _current_that_flowed(current_a: float) -> str:
    if current_a < 0.0:
        return (
            f"A current of {-current_a:.1f} A flowed during the run, out of the battery by its sign, but it grew "
            "with the speed as only charging does: the ammeter is the other way round. Under load the volts are "
            "not in proportion to speed. Disconnect the load and repeat."
        )
    return (
        f"A current of {current_a:.1f} A flowed during the run, into the battery by its sign: under load the volts "
        "are not in proportion to speed. Disconnect the load and repeat; if the ammeter was the other way round, "
        "turn it, for amps out of the battery do not load the alternator."
    )


def _dropouts(evidence: Evidence) -> list[str]:
    if evidence.dropouts == 0:
        return []
    times = "once" if evidence.dropouts == 1 else f"{evidence.dropouts} times"
    return [
        f"The volts fell away {times}, for {evidence.dropout_s:.1f} s in all, while the engine ran: look for a "
        "loose lead, connector or joint before trusting the rest."
    ]


def _distance(output: RatedOutput) -> list[str]:
    expanded = output.budget.expanded_uncertainty
    told = output.unseen_v > 0.3 * expanded
    what = "an offset or a bend" if output.proportion.line is None else "a bend"
    cost = f"±{output.unseen_v:.2g} V for {what} of the line that this run can't show is in the uncertainty"
    far = f"(nearest: {100.0 * output.nearest_share:.0f} % away)"
    nearer = f"Run nearer to {output.rated_speed_rpm:.0f} rpm"
    if output.near and not told:
        return []
    if output.near:
        return [f"All readings lie off rated speed {far}, and {cost}. {nearer}."]
    return [
        f"No reading lies within {100.0 * NEAR:.0f} % of rated speed {far}: the rated output rests on scaling "
        f"alone{f', and {cost}' if told else ''}. {nearer}{', or sweep up and down' if told else ''}."
    ]


def _shape(output: RatedOutput) -> list[str]:
    p, value = output.proportion, abs(output.rated_voltage_v)
    said: list[str] = []
    if value < _NO_VOLTS_V:
        return said  # what nothing is in proportion to says nothing
    if p.line is not None and abs(p.line.offset) > max(3.0 * p.line.u_offset, 0.02 * value):
        cause = (
            "a load still connected, shorted turns, the meter below the frequencies it is good for, or on a sweep a "
            "tach that smooths its readings"
            if p.line.offset < 0.0
            else "shorted turns or a load still connected, which hold the volts down as the speed rises, or the "
            "meter's zero"
        )
        said.append(
            f"The line of volts against speed misses zero by {p.line.offset:+.2f} V "
            f"(± {2.0 * p.line.u_offset:.2f} V). Usual causes: {cause}."
        )
    if p.sag is not None and p.u_sag is not None and p.sag > max(3.0 * p.u_sag, 0.015):
        said.append(
            f"At the highest speeds the volts lie {100.0 * p.sag:.1f} % under proportion. Usual causes: a load "
            "still connected, shorted turns, or a meter beyond its AC frequency band."
        )
    if p.hysteresis_v is not None and p.u_hysteresis_v is not None:
        if abs(p.hysteresis_v) > max(4.0 * p.u_hysteresis_v, 0.01 * value):
            said.append(
                f"Speeding up and slowing down differ by {p.hysteresis_v:+.2f} V: the lag may be wrong for "
                "part of the run, or an instrument changed its pace."
            )
    return said


def _lag(output: RatedOutput | None, evidence: Evidence) -> list[str]:
    lag = evidence.lag
    if lag is None or evidence.unfollowed:
        return []
    if lag.rivals_s:
        others = ", ".join(f"{r:+.2f} s" for r in lag.rivals_s)
        return [
            f"The shift between the two streams is ambiguous: {lag.lag_s:+.2f} s and {others} fit about as well. "
            "A run whose speed does not repeat itself would settle it"
            + ("." if evidence.in_doubt else "; until then the result carries the difference.")
        ]
    if lag.one_way:
        return [
            "The speed went one way only, where a lag between meter and tach looks like an offset: make one sweep "
            "up and down, or hold a steady speed."
        ]
    if output is None:
        return []
    if evidence.unpaired and not evidence.in_doubt:
        return [
            "No shift between the clocks of the two logs was found that brings volts and speed together; what that may "
            "do is in the uncertainty. Log both with one device, or longer and with two readings a second or more."
        ]
    if evidence.unpaired:
        return []
    if not lag.determined and output.proportion.line is not None:
        return ["The volts follow the speed too loosely to show the lag between meter and tach."]
    if not lag.determined:
        return [
            "The speed moved too little to show the lag between meter and tach; at steady speed it does not "
            "matter. One sweep up and down would show it."
        ]
    return []


def _instruments(evidence: Evidence) -> list[str]:
    said = []
    if evidence.has_volts and not evidence.meter_known:
        in_it = (
            f"only its last digit, {evidence.meter_digit_v:g} V, is in the uncertainty."
            if evidence.meter_digit_v > 0
            else "nothing of the meter's own is in the uncertainty, for its last digit is not known either."
        )
        said.append(f"{METER_UNKNOWN} (its card does not state it): {in_it}")
    if evidence.has_speed and not evidence.tach_known:
        said.append(f"{TACH_UNKNOWN} (its card does not state it).")
    if evidence.tach_model_chosen:
        said.append(f"The tach's averaging was taken as {evidence.tach_model}: it fits the run better.")
    if evidence.tach_model_assumed:
        said.append(
            f"No card says how the tach averages, and this run does not show it: {evidence.tach_model} was assumed, "
            f"and ±{evidence.averaging_limit_v:.2g} V for it is in the uncertainty."
        )
    return said


def _kept_out(evidence: Evidence) -> list[str]:
    said = []
    if evidence.false_speed_readings:
        count = evidence.false_speed_readings
        noun = "tach reading was" if count == 1 else "tach readings were"
        said.append(
            f"{count} {noun} false (marks counted twice or missed, or spikes) and kept out: check the mark, "
            "the aim and the light."
        )
    if evidence.speed_gaps:
        gaps = "one gap" if evidence.speed_gaps == 1 else f"{evidence.speed_gaps} gaps"
        said.append(f"The speed readings have {gaps} too long to bridge.")
    for mark, count in sorted(evidence.rejected.items()):
        noun = "row was" if count == 1 else "rows were"
        said.append(f"{count} {noun} kept out: {_MARK_WORDS[mark]}.")
    return said
