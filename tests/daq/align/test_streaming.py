"""Fed in chunks of any size the kernel gives the same rows, bit for bit, as fed at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from daq.align.pairing import run_kernel
from daq.align.revolutions import TachModel, build_segments
from daq.align.synchronizer import SLACK_S, AlignmentParameters, PairedRows, Synchronizer

Floats = NDArray[np.float64]
Streams = tuple[Floats, Floats, Floats, Floats]

MODELS: tuple[TachModel, ...] = ("contiguous", "sampled", "counted")


def parameters(
    model: TachModel = "contiguous", lag_s: float = 0.15, window_s: float = 0.4, max_gap_s: float = 1.3
) -> AlignmentParameters:
    period = None if model == "counted" else 0.5
    return AlignmentParameters(lag_s, window_s, model, period, max_gap_s)


def streams(model: TachModel, gone_speed: Sequence[int], gone_volts: Sequence[int], seed: int) -> Streams:
    """Forty seconds of an engine that hunts, with readings taken out."""
    rng = np.random.default_rng(seed)
    speed_t = np.delete(0.3 + 0.5 * np.arange(80), gone_speed)
    volts_t = np.delete(0.1 + 0.4 * np.arange(100), gone_volts)
    if model == "counted":
        speed_t = speed_t + rng.uniform(0.0, 0.2, len(speed_t))
        speed = 55.0 * speed_t + np.sin(speed_t)
        for anew in rng.integers(0, len(speed_t), seed % 4):  # a counter that was switched off and on
            speed[anew:] -= speed[anew]
    else:
        speed = np.round(3300.0 + 300.0 * np.sin(0.8 * speed_t) + rng.normal(0.0, 2.0, len(speed_t)))
    volts = np.round(22.0 + 2.0 * np.sin(0.8 * volts_t) + rng.normal(0.0, 0.01, len(volts_t)), 2)
    volts[rng.random(len(volts)) < 0.03] = np.nan
    return speed_t, speed, volts_t, volts


def chunked(p: AlignmentParameters, columns: Streams, edges: Sequence[float], skew_s: float) -> PairedRows:
    """Feed up to each edge in turn, the speed ahead of the volts by the skew."""
    speed_t, speed, volts_t, volts = columns
    kernel = Synchronizer(p)
    parts = []
    s0 = v0 = 0
    for edge in sorted(edges):
        s1 = max(s0, int(np.searchsorted(speed_t, edge + skew_s)))
        v1 = max(v0, int(np.searchsorted(volts_t, edge)))
        parts.append(kernel.feed(speed_t[s0:s1], speed[s0:s1], volts_t[v0:v1], volts[v0:v1]))
        s0, v0 = s1, v1
    parts.append(kernel.feed(speed_t[s0:], speed[s0:], volts_t[v0:], volts[v0:]))
    parts.append(kernel.flush())
    return PairedRows.joined(parts)


def at_once(p: AlignmentParameters, columns: Streams) -> PairedRows:
    kernel = Synchronizer(p)
    return PairedRows.joined([kernel.feed(*columns), kernel.flush()])


def same_bits(a: PairedRows, b: PairedRows) -> None:
    for name in ("time_s", "voltage_v", "speed_rpm", "slope_rpm_s", "bridged"):
        left, right = getattr(a, name), getattr(b, name)
        assert left.dtype == right.dtype, name
        assert left.tobytes() == right.tobytes(), name


GAPS = st.lists(
    st.tuples(st.integers(0, 75), st.integers(1, 9)).map(lambda g: range(g[0], min(g[0] + g[1], 79))),
    max_size=4,
).map(lambda gaps: sorted({i for gap in gaps for i in gap}))


@given(
    model=st.sampled_from(MODELS),
    gone_speed=GAPS,
    gone_volts=GAPS,
    edges=st.lists(st.floats(0.0, 42.0), max_size=60),
    skew_s=st.floats(-0.9 * SLACK_S, 0.9 * SLACK_S),
    lag_s=st.sampled_from([-0.5, -0.3, 0.0, 0.15, 0.62]),
    window_s=st.sampled_from([0.1, 0.4, 2.2]),
    max_gap_s=st.sampled_from([0.6, 1.3, 3.0]),
    seed=st.integers(0, 50),
)
@settings(max_examples=250, deadline=None)
def test_any_chunking_gives_the_same_bits(
    model: TachModel,
    gone_speed: list[int],
    gone_volts: list[int],
    edges: list[float],
    skew_s: float,
    lag_s: float,
    window_s: float,
    max_gap_s: float,
    seed: int,
) -> None:
    columns = streams(model, gone_speed, gone_volts, seed)
    p = parameters(model, lag_s, window_s, max_gap_s)
    whole = at_once(p, columns)
    assert len(whole.time_s) == len(columns[2])
    same_bits(chunked(p, columns, edges, skew_s), whole)


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("step_s", [0.05, 0.4, 3.0, 11.0])
def test_even_chunks_from_single_readings_to_long_blocks(model: TachModel, step_s: float) -> None:
    columns = streams(model, [5, 20, 21, 22, 23, 24, 60], [7, 50, 51], seed=3)
    p = parameters(model)
    same_bits(chunked(p, columns, np.arange(0.0, 45.0, step_s).tolist(), 0.0), at_once(p, columns))


def test_a_count_that_begins_anew_is_another_piece() -> None:
    time_s = np.asarray(0.5 * np.arange(41), dtype=np.float64)
    count = 50.0 * time_s
    count[20:] = 50.0 * (time_s[20:] - 9.8)
    p = parameters("counted", lag_s=0.0, window_s=0.4)
    rows = at_once(p, (time_s, count, time_s + 0.01, np.full(41, 20.0)))
    known = np.isfinite(rows.speed_rpm)
    assert np.flatnonzero(~known).tolist() == [0, 19, 20, 40], "the ends, and the hole between two pieces"
    np.testing.assert_allclose(rows.speed_rpm[known], 3000.0)


@pytest.mark.parametrize("model", MODELS)
def test_rows_that_end_on_the_very_edges_of_segments(model: TachModel) -> None:
    """There start plus length and the next start may differ in the last bit, and either may be the greater."""
    rng = np.random.default_rng(8)
    speed_t = np.cumsum(rng.uniform(0.3, 0.7, 400))
    value = 50.0 * speed_t + np.sin(speed_t) if model == "counted" else 3000.0 + 300.0 * np.sin(speed_t)
    period = None if model == "counted" else 0.5
    segments = build_segments(speed_t, value, model=model, period_s=period, ended=True)
    ends = np.sort(np.concatenate((segments.start_s, segments.start_s + segments.length_s)))
    columns = (speed_t, value, ends - 0.25, np.full(len(ends), 20.0))
    p = AlignmentParameters(0.0, 0.5, model, period, 1.3)
    same_bits(chunked(p, columns, ends.tolist(), 0.0), at_once(p, columns))


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("count", [16_383, 16_384, 40_000])
def test_blocks_of_a_long_run_give_the_same_bits(model: TachModel, count: int) -> None:
    """The whole-run way feeds blocks; it must equal one single feed, block edges and all."""
    time_s = np.asarray(0.1 * np.arange(count), dtype=np.float64)
    speed = 55.0 * time_s if model == "counted" else 3300.0 + 300.0 * np.sin(0.3 * time_s)
    speed_t = np.delete(time_s, [100, 5000, 5001, 5002, 5003])
    columns = (speed_t, np.delete(speed, [100, 5000, 5001, 5002, 5003]), time_s + 0.03, 0.006 * speed)
    p = AlignmentParameters(0.1, 0.1, model, None if model == "counted" else 0.1, 0.26)
    same_bits(run_kernel(p, *columns), at_once(p, columns))


def test_rows_come_in_order_and_as_soon_as_nothing_can_change_them() -> None:
    columns = streams("contiguous", [], [], seed=1)
    speed_t, speed, volts_t, volts = columns
    kernel = Synchronizer(parameters())
    given_s: list[float] = []
    oldest_wait = 0.0
    for edge in np.arange(0.2, 40.2, 0.2):
        s, v = [(t >= edge - 0.2) & (t < edge) for t in (speed_t, volts_t)]
        rows = kernel.feed(speed_t[s], speed[s], volts_t[v], volts[v])
        given_s += rows.time_s.tolist()
        waiting = volts_t[(volts_t < edge) & (volts_t > (given_s[-1] if given_s else -1.0))]
        if edge > 5.0 and len(waiting):
            oldest_wait = max(oldest_wait, edge - float(waiting[0]))
    assert given_s == sorted(given_s)
    # Three tach readings have to follow, and readings are taken in half a second at a time.
    assert oldest_wait < 2.9
    assert len(given_s) + len(kernel.flush().time_s) == len(volts_t)


def test_a_row_does_not_wait_for_ever_when_the_tach_falls_silent() -> None:
    speed_t, speed, volts_t, volts = streams("contiguous", list(range(20, 80)), [], seed=1)
    p = parameters()
    kernel = Synchronizer(p)
    got = 0
    for i in range(len(volts_t)):
        s = speed_t[(speed_t <= volts_t[i]) & (speed_t > (volts_t[i - 1] if i else -1.0))]
        got += len(kernel.feed(s, speed[: len(s)], volts_t[i : i + 1], volts[i : i + 1]).time_s)
        if volts_t[i] > 12.0:
            assert volts_t[i] - volts_t[got] <= p.wait_s + 1.5
    assert got > 60


def test_what_the_kernel_holds_stays_small() -> None:
    """A day of readings must not pile up in memory."""
    kernel = Synchronizer(parameters())
    for block in range(200):
        t = np.asarray(50.0 * block + 0.5 * np.arange(100), dtype=np.float64)
        kernel.feed(t, np.full(100, 3000.0), t + 0.1, np.full(100, 20.0))
        held = kernel._table._segments.shape[1] + len(kernel._run_t) + len(kernel._pending_t)
        assert held < 300
    assert len(kernel._held) <= 1


def test_no_row_without_a_volts_reading_and_none_without_speed() -> None:
    p = parameters()
    kernel = Synchronizer(p)
    none = np.empty(0)
    t = np.arange(0.0, 20.0, 0.5)
    assert len(kernel.feed(t, np.full(40, 3000.0), none, none).time_s) == 0
    assert len(kernel.flush().time_s) == 0
    alone = Synchronizer(p)
    rows = [alone.feed(none, none, t, np.full(40, 20.0)), alone.flush()]
    joined = PairedRows.joined(rows)
    assert len(joined.time_s) == 40
    assert np.isnan(joined.speed_rpm).all()


def test_empty_feeds_give_nothing() -> None:
    kernel = Synchronizer(parameters())
    none = np.empty(0)
    assert len(kernel.feed(none, none, none, none).time_s) == 0
    assert len(kernel.flush().time_s) == 0
