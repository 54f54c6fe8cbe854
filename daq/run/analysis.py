"""From channels to aligned rows and a result: the one road of live, replay and recorded runs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from daq.align.excerpt import excerpt
from daq.align.lag import LagEstimate, LagPrior
from daq.align.marks import Mark
from daq.align.pairing import Pairing, pair_streams, prior_from_cards, prior_from_logs
from daq.align.parts import parts
from daq.align.snaps import shared_shift
from daq.align.streams import PlacedStreams, Stream, changes_of, place_streams
from daq.align.two_cores import both
from daq.model.progress import unheard
from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, RatedOutput, limits_where_used, rated_output
from daq.run.alternatives import Alternatives, find_alternatives, longer_window
from daq.run.channels import ChannelData, RunData
from daq.run.clock_doubts import clock_doubts
from daq.run.departing_doubts import marked_apart
from daq.run.drift_doubts import with_unsteady
from daq.run.follow_doubts import follow_doubts
from daq.run.left_out import dropouts_of, kept_out
from daq.run.load_signs import load_signs
from daq.run.own_clock import follow, new_start_notes
from daq.run.rated_rows import rated_rows
from daq.run.rows import AlignedRows
from daq.run.scatter_doubts import with_tach_scatter
from daq.run.signs import signs
from daq.run.smoothing_doubts import with_smoothing
from daq.run.speed_doubts import (
    find_poles,
    frequency_gap,
    pole_notes,
    speed_doubts,
    turns_backwards,
)
from daq.run.speed_unit import unit_doubts
from daq.run.stamp_doubts import stamp_doubts, stamp_notes
from daq.run.unpaired_doubts import told_of_unpaired, unpaired
from daq.run.volts_doubts import volts_doubts
from daq.run.weightless_doubts import with_weightless
from daq.verdict.evidence import Evidence
from daq.verdict.judge import Rule, judge
from daq.verdict.result import Result

__all__ = ["Analysis", "analyse"]

Floats = NDArray[np.float64]


class _Rate(Protocol):
    """States the output of rows, all else of the run given."""

    def __call__(self, rows: CountedRows, *, lag: LagEstimate) -> RatedOutput | None: ...


_PLACED, _PAIRED, _JUDGED, _SCATTER = 0.15, 0.4, 0.7, 0.8
"""About the part of the time that is over after each stage, where there are millions of readings."""
_NEAR_S = 0.5
"""A lag this near to what was expected needs no second look at which readings are false."""


@dataclass(frozen=True)
class Analysis:
    """Everything a run says."""

    result: Result
    finish_rows: Callable[[], AlignedRows] = field(repr=False, compare=False)
    """Works out what stands beside the paired rows; only who shows or writes rows needs it."""
    output: RatedOutput | None = None
    pairing: Pairing | None = None
    others: Alternatives | None = None
    """What other shifts would make of the output; None where no output is stated."""

    @cached_property
    def rows(self) -> AlignedRows:
        """The aligned rows."""
        return self.finish_rows()


def analyse(
    data: RunData,
    *,
    rule: Rule = "guarded",
    given: Analysis | None = None,
    progress: Callable[[float], None] = unheard,
) -> Analysis:
    """Align a run, state its rated output and judge it.

    Args:
        data: the run.
        rule: how the limit is compared.
        given: that of the same run a moment ago, with a pairing: its lag, and what other shifts make of the
            output, stand until the lag is estimated anew.
        progress: called between the stages, in this thread, with about the part of the time that is over.
    """
    volts, speed = data.volts, data.speed
    progress(0.0)
    if volts is None or speed is None:
        alone = _without_pair(data, volts, speed, rule)
        progress(1.0)
        return alone
    meter = InstrumentLimits.of(volts.card, volts.first_values())
    turns = speed.entry.quantity is Quantity.REVOLUTIONS
    tach = InstrumentLimits.of(speed.card, np.empty(0) if turns else speed.first_values())
    before = given.pairing if given is not None else None
    streams, pairing = _aligned(data, volts, speed, meter.digit, tach.digit, before, progress)
    rated_rpm = data.machine.rated_speed_rpm if data.machine is not None else None
    counted = _counted(pairing)
    turning = _with_gap(tach, data, pairing)
    rate: _Rate | None = None
    if rated_rpm is not None:
        meter = limits_where_used(meter, counted, rated_rpm)
        rate = partial(rated_output, rated_rpm=rated_rpm, meter=meter, tach=turning)
    known = given.others if given is not None and not data.own_clocks else None
    (output, others), (evidence, unfollowed) = both(
        lambda: _stated(data, streams, pairing, counted, rate, known),
        lambda: (
            _evidence(data, streams, pairing, meter, tach),
            follow_doubts(data, streams, pairing, meter, tach),
        ),
        readings=len(pairing.mark),
    )
    progress(_JUDGED)
    evidence = _with_others_told(evidence, output, others, unfollowed)
    without_rows = evidence
    if output is not None and output.scaled and not evidence.loaded:
        output, evidence = with_unsteady(output, evidence, pairing, meter, tach)
    if output is not None and output.scaled and not evidence.loaded:
        output, evidence = with_tach_scatter(output, evidence, data, streams, pairing, (meter, tach))
        progress(_SCATTER)
        output, evidence = with_smoothing(output, evidence, pairing)
    if unpaired(data, streams, pairing):
        evidence = told_of_unpaired(output, without_rows, evidence)
    if output is not None and (evidence.loaded or evidence.in_doubt):
        output = replace(output, scaled=False)
    if output is not None and output.scaled:
        output, evidence = with_weightless(output, evidence, counted)
        pairing = marked_apart(pairing, _counts(pairing), output)
        left_out = kept_out(pairing)
        evidence = replace(evidence, rejected=left_out, rows_rejected=sum(left_out.values()))
    told = judge(output, evidence, rule=rule)
    progress(1.0)
    rows = partial(rated_rows, pairing, output, data.machine, meter, turning)
    return Analysis(told, rows, output, pairing, others if output is not None else None)


def _with_others_told(
    evidence: Evidence, output: RatedOutput | None, others: Alternatives, unfollowed: tuple[str, ...]
) -> Evidence:
    """The evidence with what was worked out beside it."""
    in_doubt = (*evidence.in_doubt, *others.in_doubt)
    evidence = replace(evidence, averaging_limit_v=others.averaging_limit_v, in_doubt=in_doubt)
    shaped = output is not None and not output.scaled  # told by the shape of the line
    if shaped or not unfollowed:
        return evidence
    return replace(evidence, unfollowed=True, in_doubt=(*in_doubt, *unfollowed))


def _stated(
    data: RunData,
    streams: PlacedStreams,
    pairing: Pairing,
    counted: CountedRows,
    rate: _Rate | None,
    known: Alternatives | None,
) -> tuple[RatedOutput | None, Alternatives]:
    """The output with what others that fit about as well would make of it in its budget."""
    output = rate(counted, lag=pairing.lag) if rate is not None else None
    window_s = longer_window(data, streams, pairing)
    if rate is None or output is None:
        return output, Alternatives()
    if not (pairing.lag.rivals_s or pairing.model_rival is not None or window_s is not None):
        return output, Alternatives()
    others = known if known is not None else _alternatives(data, streams, pairing, output, rate)
    return others.beside(output), others


def _alternatives(
    data: RunData, streams: PlacedStreams, pairing: Pairing, output: RatedOutput, rate: _Rate
) -> Alternatives:
    """What others that fit about as well make of the output; of a very long run on some stretches of it."""
    lags = [pairing.lag, *([pairing.model_rival[1]] if pairing.model_rival is not None else [])]
    wanted = _counts(pairing)
    for part in parts(len(wanted)):
        off = np.abs(pairing.rows.speed_rpm[part] / output.rated_speed_rpm - 1.0)
        wanted[part] &= off <= output.reach
    shifts_s = [shift for lag in lags for shift in (lag.lag_s, *lag.rivals_s)]
    some = excerpt(streams, wanted, shifts_s)
    volts, speed = data.volts, data.speed

    def again(other: Pairing) -> RatedOutput | None:
        paired = pair_streams(
            some,
            speed_card=speed.card if speed is not None else None,
            volts_card=volts.card if volts is not None else None,
            prior=LagPrior(),
            digit_v=0.0,
            given=other,
            window_s=other.parameters.voltage_window_s,
        )
        return rate(_counted(paired), lag=paired.lag)

    # Held against what the same stretches give, so that which ones were taken does not matter.
    there = output if some is streams else again(pairing)
    if there is not None:
        output = replace(output, rated_voltage_v=there.rated_voltage_v)
    return find_alternatives(
        output,
        pairing,
        again,
        own_clocks=data.own_clocks,
        minimum_v=data.machine.minimum_ac_voltage_v if data.machine is not None else None,
        longer_window_s=longer_window(data, streams, pairing),
    )


def _with_gap(tach: InstrumentLimits, data: RunData, pairing: Pairing) -> InstrumentLimits:
    """The tach's limits, widened by what it differs from the frequency beyond both instruments' limits."""
    gap = abs(frequency_gap(data, find_poles(data, pairing), tach))
    return tach if gap <= tach.share else replace(tach, known=True, share=gap)


def _aligned(
    data: RunData,
    volts: ChannelData,
    speed: ChannelData,
    digit_v: float,
    digit_rpm: float,
    given: Pairing | None,
    progress: Callable[[float], None],
) -> tuple[PlacedStreams, Pairing]:
    """Place and pair the streams; readings are called false only once the streams are brought together."""
    ways = (_stream(speed, data), _stream(volts, data))
    place = partial(place_streams, *ways, digit_v=digit_v, digit_rpm=digit_rpm)
    pair = partial(pair_streams, speed_card=speed.card, volts_card=volts.card, digit_v=digit_v)
    if given is not None:
        streams = place(shift_s=given.lag.lag_s)
        return streams, pair(streams, prior=LagPrior(), given=given)
    prior = prior_from_cards(speed.card, volts.card)
    if data.own_clocks:
        prior = prior_from_logs(speed.time_s, volts.time_s)
    streams = place(shift_s=None if data.own_clocks else prior.centre_s)
    progress(_PLACED)
    first = pair(streams, prior=prior)
    progress(_PAIRED)
    known = first.lag.determined and not first.lag.rivals_s
    near = known and not data.own_clocks and abs(first.lag.lag_s - prior.centre_s) < _NEAR_S
    if near:
        return streams, first
    lag_s = first.lag.lag_s if known else _from_snaps(streams, prior)
    if lag_s is None:
        return streams, first
    streams = place(shift_s=lag_s)
    return streams, pair(streams, prior=LagPrior(lag_s, 0.6, lag_s - 2.0, lag_s + 2.0))


def _from_snaps(streams: PlacedStreams, prior: LagPrior) -> float | None:
    """About how much later the volts come, by the quick changes of throttle that both streams show."""
    if streams.counted:
        return None
    lag_s = shared_shift(*changes_of(streams))
    return lag_s if lag_s is not None and prior.low_s <= lag_s <= prior.high_s else None


def _stream(channel: ChannelData, data: RunData) -> Stream:
    followed = follow(channel, data)
    value = followed.value
    if channel.entry.quantity is Quantity.ROTATIONAL_SPEED and turns_backwards(channel):
        value = -value  # a tach with a sign for the direction: its size is the speed
    return Stream(
        time_s=followed.time_s,
        value=value,
        flagged=(channel.quality != Quality.GOOD),
        card=channel.card,
        own_clock=followed.own_clock,
        counts_revolutions=channel.entry.quantity is Quantity.REVOLUTIONS,
    )


def _counts(pairing: Pairing) -> NDArray[np.bool_]:
    return np.asarray((pairing.mark == Mark.GOOD) & np.isfinite(pairing.rows.voltage_v))


def _counted(pairing: Pairing) -> CountedRows:
    good, rows = _counts(pairing), pairing.rows
    chosen: NDArray[np.bool_] | slice = good
    if bool(good.any()):
        within = slice(int(np.argmax(good)), len(good) - int(np.argmax(good[::-1])))
        chosen = within if bool(good[within].all()) else good  # as usual all between the ends, and no copies
    columns = (rows.time_s, rows.voltage_v, rows.speed_rpm, rows.slope_rpm_s)
    return CountedRows(*(column[chosen] for column in columns))


def _evidence(
    data: RunData,
    streams: PlacedStreams,
    pairing: Pairing,
    meter: InstrumentLimits,
    tach: InstrumentLimits,
) -> Evidence:
    left_out = kept_out(pairing)
    dropouts, dropout_s = dropouts_of(streams)
    poles, load = find_poles(data, pairing), load_signs(data, pairing)
    return Evidence(
        rated_speed_rpm=data.machine.rated_speed_rpm if data.machine is not None else None,
        minimum_v=data.machine.minimum_ac_voltage_v if data.machine is not None else None,
        rows=len(pairing.mark),
        rows_rejected=sum(left_out.values()),
        rejected=left_out,
        false_speed_readings=int(np.sum(streams.marks.speed == Mark.FALSE_SPEED)),
        lag=pairing.lag,
        lag_u_s=pairing.lag_u_s,
        pole_pairs=poles.pole_pairs if poles is not None else None,
        meter_known=meter.known,
        meter_digit_v=meter.digit,
        tach_known=tach.known,
        tach_model=pairing.parameters.tach_model,
        tach_model_chosen=pairing.model_chosen,
        tach_model_assumed=pairing.model_rival is not None,
        speed_gaps=pairing.gaps,
        dropouts=dropouts,
        dropout_s=dropout_s,
        load_current_a=load.load_current_a,
        discharge_a=load.discharge_a,
        battery_v=load.battery_v,
        charging=load.charging,
        in_doubt=(
            *(volts_doubts(data.volts) if data.volts is not None else ()),
            *stamp_doubts(streams),
            *(unit_doubts(data, streams) or speed_doubts(data, streams, pairing, poles, tach)),
            *clock_doubts(data, streams, pairing, meter.digit),
        ),
        notes=(
            *new_start_notes(data),
            *stamp_notes(streams),
            *signs(data, streams, pairing),
            *pole_notes(data, poles, tach),
            *data.problems,
        ),
    )


def _without_pair(
    data: RunData, volts: ChannelData | None, speed: ChannelData | None, rule: Rule
) -> Analysis:
    n = 0 if volts is None else len(volts.time_s)
    machine, frequency = data.machine, data.first(Quantity.FREQUENCY)
    if frequency is not None and len(frequency.sample()) == 0:
        frequency = None
    evidence = Evidence(
        rated_speed_rpm=machine.rated_speed_rpm if machine is not None else None,
        minimum_v=machine.minimum_ac_voltage_v if machine is not None else None,
        rows=n,
        rows_rejected=n,
        has_volts=volts is not None,
        has_speed=speed is not None,
        frequency_hz=None if frequency is None else float(np.median(frequency.sample())),
        card_pole_pairs=machine.pole_pairs if machine is not None else None,
        meter_known=True,
        tach_known=True,
        notes=data.problems,
    )
    rows = AlignedRows.empty()
    if volts is not None:
        unknown = np.full(n, np.nan)
        no = np.zeros(n, dtype=np.bool_)
        value = np.where(volts.quality == Quality.GOOD, volts.value, np.nan)
        mark = np.where(np.isfinite(value), Mark.NO_SPEED, Mark.NO_VALUE).astype(np.uint8)
        rows = AlignedRows(volts.time_s, unknown, value, unknown, unknown, no, no, mark)
    return Analysis(judge(None, evidence, rule=rule), lambda: rows)
