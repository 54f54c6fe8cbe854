"""Whole streams: what the cards say, how the tach averages, what rows are kept out."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.lag import LagEstimate, RowMisfits
from daq.align.marks import Mark
from daq.align.pairing import Pairing, pair_streams, prior_from_cards
from daq.align.revolutions import TachModel
from daq.align.streams import PlacedStreams, Stream, place_streams
from daq.align.tach_choice import TachChoice, choose_tach_model
from daq.cards.instrument import ChannelCard, Response
from daq.model.quantity import Quantity
from tests.daq.align.builders import Instruments, Kind, Run, random_run

Floats = NDArray[np.float64]


def stream(time_s: Floats, value: Floats, **facts: object) -> Stream:
    flagged = np.zeros(len(time_s), dtype=np.bool_)
    return Stream(time_s, value, flagged, None, **facts)  # type: ignore[arg-type]  # two plain flags


def placed(run: Run, speed: Floats | None = None) -> PlacedStreams:
    return place_streams(
        stream(run.speed_t, run.speed if speed is None else speed),
        stream(run.volts_t, run.volts),
        digit_v=0.01,
        digit_rpm=1.0,
    )


def paired(streams: PlacedStreams, tach: ChannelCard | None = None) -> Pairing:
    return pair_streams(
        streams,
        speed_card=tach,
        volts_card=None,
        prior=prior_from_cards(tach, None),
        digit_v=0.01,
    )


def tach_card(**response: object) -> ChannelCard:
    return ChannelCard(
        quantity=Quantity.ROTATIONAL_SPEED,
        response=Response(**response),  # type: ignore[arg-type]  # keys of Response
    )


@pytest.mark.parametrize(("window_s", "averaging"), [(0.5, "contiguous"), (0.02, "sampled")])
@pytest.mark.parametrize("kind", ["sweep", "hunting"])
def test_averaging_is_chosen_where_the_run_rules_the_other_way_out(
    kind: Kind, window_s: float, averaging: str
) -> None:
    tools = Instruments(speed_window_s=window_s)
    right = 0
    for seed in range(10):
        pairing = paired(placed(random_run(kind, np.random.default_rng(seed), 150.0, tools)))
        right += pairing.parameters.tach_model == averaging
        if pairing.parameters.tach_model != averaging:
            # Not seen is told, and costs: taken for seen it must never be.
            assert not pairing.model_chosen
            assert pairing.model_rival is not None
            assert pairing.model_rival[0] == averaging
    assert right >= 9


@pytest.mark.parametrize("kind", ["sweep", "steps", "hunting", "governor"])
def test_readings_on_kinks_are_no_evidence_of_sampling(kind: Kind) -> None:
    """On steps a plain comparison of residuals takes one run in ten of a contiguous tach for sampled."""
    for seed in range(25):
        pairing = paired(placed(random_run(kind, np.random.default_rng(100 + seed), 40.0)))
        assert pairing.parameters.tach_model == "contiguous"


def test_a_choice_between_fits() -> None:
    rng = np.random.default_rng(2)
    apart = rng.normal(0.0, 0.02, 200)
    index = np.arange(200)

    def chosen(share: float, noise_v: float, rows: int = 200) -> TachChoice:
        residual = share * apart + rng.normal(0.0, noise_v, 200)
        fits: dict[TachModel, LagEstimate] = {
            "contiguous": LagEstimate(0.1, 0.01, True, misfits=RowMisfits(index[:rows], residual[:rows])),
            "sampled": LagEstimate(
                0.1, 0.01, True, misfits=RowMisfits(index[:rows], (residual - apart)[:rows])
            ),
        }
        return choose_tach_model(fits)

    for share, model in ((0.0, "contiguous"), (1.0, "sampled")):
        sure = chosen(share, 0.02)
        assert (sure.model, sure.seen, sure.rival) == (model, True, None)
        for unsure in (chosen(share, 0.5), chosen(share, 0.02, rows=15)):
            assert (unsure.model, unsure.seen) == ("contiguous", False)
            assert unsure.rival is not None
            assert unsure.rival[0] == "sampled"
    between = chosen(0.7, 0.02)
    assert (between.model, between.seen) == ("sampled", False)
    assert between.rival is not None
    assert between.rival[0] == "contiguous"


@pytest.mark.parametrize("averaging", ["contiguous", "sampled"])
def test_what_the_card_says_of_averaging_is_believed(averaging: str) -> None:
    run = random_run("sweep", np.random.default_rng(1))
    pairing = paired(placed(run), tach_card(averaging=averaging))
    assert pairing.parameters.tach_model == averaging
    assert not pairing.model_chosen


def test_a_short_window_on_the_card_means_sampled() -> None:
    run = random_run("sweep", np.random.default_rng(1))
    assert paired(placed(run), tach_card(window_s=0.05)).parameters.tach_model == "sampled"
    assert paired(placed(run), tach_card(window_s=0.5)).parameters.tach_model == "contiguous"


def test_prior_from_cards() -> None:
    meter = ChannelCard(quantity=Quantity.AC_VOLTAGE, response=Response(window_s=0.4, delay_s=0.3))
    tach = tach_card(window_s=0.5, delay_s=0.05)
    prior = prior_from_cards(tach, meter)
    assert prior.centre_s == pytest.approx((0.3 + 0.2) - (0.05 + 0.25))
    assert prior.low_s < prior.centre_s < prior.high_s


def test_counter_of_revolutions() -> None:
    run = random_run("sweep", np.random.default_rng(2))
    turns_t = np.arange(0.0, 75.0, 0.25)
    turns = np.interp(turns_t, run.engine.time_s, np.cumsum(run.engine.speed_rpm) * 0.005 / 60.0)
    streams = place_streams(
        stream(turns_t, turns, own_clock=True, counts_revolutions=True),
        stream(run.volts_t, run.volts),
        digit_v=0.01,
        digit_rpm=0.0,
    )
    pairing = paired(streams)
    assert pairing.parameters.tach_model == "counted"
    good = pairing.mark == Mark.GOOD
    ratio = pairing.rows.voltage_v[good] / pairing.rows.speed_rpm[good] * 150.0
    assert good.mean() > 0.97
    assert np.std(ratio) < 1.5e-3


def test_rows_over_a_gap_have_no_speed_and_say_so() -> None:
    run = random_run("hunting", np.random.default_rng(3))
    keep = (run.speed_t < 30.0) | (run.speed_t > 39.0)
    streams = place_streams(
        stream(run.speed_t[keep], run.speed[keep]),
        stream(run.volts_t, run.volts),
        digit_v=0.01,
        digit_rpm=1.0,
    )
    pairing = paired(streams)
    inside = (run.volts_t > 31.5) & (run.volts_t < 37.5)
    assert np.isnan(pairing.rows.speed_rpm[inside]).all()
    assert (pairing.mark[inside] == Mark.NO_SPEED).all()
    assert pairing.gaps == 1


def test_rows_beside_false_and_missing_tach_readings() -> None:
    run = random_run("hunting", np.random.default_rng(4))
    speed = run.speed.copy()
    speed[40] *= 2.0
    run_t = np.delete(run.speed_t, 80)
    streams = place_streams(
        stream(run_t, np.delete(speed, 80)), stream(run.volts_t, run.volts), digit_v=0.01, digit_rpm=1.0
    )
    pairing = paired(streams)
    marks = set(pairing.mark.tolist())
    assert Mark.FALSE_SPEED in marks
    assert Mark.BRIDGED in marks
    # A single hole takes the rows over it and no more.
    assert int(np.sum(pairing.mark == Mark.FALSE_SPEED)) <= 4
    assert int(np.sum(pairing.mark == Mark.BRIDGED)) <= 4
    # Filled in from its neighbours the speed is still near the truth, only it does not count.
    bridged = pairing.mark == Mark.BRIDGED
    assert pairing.rows.voltage_v[bridged] / pairing.rows.speed_rpm[bridged] == pytest.approx(
        np.full(int(bridged.sum()), 1.0 / 150.0), rel=5e-3
    )


def test_one_row_for_each_volts_reading_in_its_place() -> None:
    run = random_run("steps", np.random.default_rng(5))
    run.volts[[10, 50]] = np.nan
    pairing = paired(placed(run))
    assert len(pairing.rows.time_s) == len(run.volts)
    assert np.array_equal(pairing.rows.voltage_v, run.volts, equal_nan=True)
    assert pairing.mark[[10, 50]].tolist() == [Mark.NO_VALUE, Mark.NO_VALUE]
    assert np.max(np.abs(pairing.rows.time_s - run.volts_t)) < 0.15


def test_flagged_readings_count_for_nothing() -> None:
    run = random_run("steps", np.random.default_rng(6))
    flagged = np.zeros(len(run.volts), dtype=np.bool_)
    flagged[20:30] = True
    streams = place_streams(
        stream(run.speed_t, run.speed),
        Stream(run.volts_t, run.volts, flagged, None),
        digit_v=0.01,
        digit_rpm=1.0,
    )
    assert (paired(streams).mark[20:30] == Mark.INSTRUMENT_FLAGGED).all()
