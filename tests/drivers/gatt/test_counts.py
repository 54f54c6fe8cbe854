"""CSC Measurement as a counter, against CHECKS W14 to W16."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.driver_api import Quality, Reading
from drivers.gatt.counts import CountsDecoder
from drivers.gatt.csc import CscMeasurement, Event, parse_csc

S = 1_000_000_000


def wheel(count: int, ticks: int) -> bytes:
    return b"\x01" + count.to_bytes(4, "little") + ticks.to_bytes(2, "little")


def crank(count: int, ticks: int) -> bytes:
    return b"\x02" + count.to_bytes(2, "little") + ticks.to_bytes(2, "little")


def both(wheel_packet: bytes, crank_packet: bytes) -> bytes:
    return b"\x03" + wheel_packet[1:] + crank_packet[1:]


def pairs(readings: list[Reading]) -> list[tuple[float | None, float | None]]:
    """Revolutions with the device time of the same stamp; a loss is a pair of None."""
    revolutions = [r for r in readings if r.channel == 0]
    times = [r for r in readings if r.channel == 1]
    assert [r.t_ns for r in revolutions] == [r.t_ns for r in times]
    return [(r.value, t.value) for r, t in zip(revolutions, times, strict=True)]


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"\x00", CscMeasurement(None, None)),
        (wheel(1000, 0xFC00), CscMeasurement(Event(1000, 0xFC00), None)),
        (crank(7, 1024), CscMeasurement(None, Event(7, 1024))),
        (both(wheel(1, 2), crank(3, 4)), CscMeasurement(Event(1, 2), Event(3, 4))),
    ],
)
def test_packets(data: bytes, expected: CscMeasurement) -> None:
    assert parse_csc(data) == expected


@pytest.mark.parametrize("data", [b"\x00", wheel(1, 2), crank(1, 2), both(wheel(1, 2), crank(3, 4))])
def test_every_other_length_is_refused(data: bytes) -> None:
    for length in range(24):
        if length != len(data):
            assert parse_csc((data + bytes(24))[:length]) is None


@pytest.mark.parametrize("flags", [4, 0x81, 0xFF])
def test_reserved_flags_are_refused(flags: int) -> None:
    assert parse_csc(bytes([flags]) + wheel(1, 2)[1:]) is None


def test_time_wraps() -> None:
    """W15: 0xFC00 to 0x0400, 1000 to 1040: 2 s, 40 turns, 1200 rpm."""
    decoder = CountsDecoder(0, 1, 1)
    readings = decoder.feed(wheel(1000, 0xFC00), 0) + decoder.feed(wheel(1040, 0x0400), 2 * S)
    assert pairs(readings) == [(0.0, 0.0), (40.0, 2.0)]


def test_counts_wrap_at_32_and_at_16_bits() -> None:
    wheels = CountsDecoder(0, 1, 1, "wheel")
    readings = wheels.feed(wheel(2**32 - 10, 0), 0) + wheels.feed(wheel(10, 1024), S)
    assert pairs(readings) == [(0.0, 0.0), (20.0, 1.0)]
    cranks = CountsDecoder(0, 1, 1, "crank")
    readings = cranks.feed(crank(2**16 - 10, 0), 0) + cranks.feed(crank(10, 1024), S)
    assert pairs(readings) == [(0.0, 0.0), (20.0, 1.0)]


@pytest.mark.parametrize("gap_s", [60.5, 64.0, 66.0, 130.0])
def test_no_rate_is_told_across_a_gap_of_a_clocks_turn(gap_s: float) -> None:
    """W16. The packets would fit a plausible speed, had the clock gone round just once more or less."""
    decoder = CountsDecoder(0, 1, 1)
    readings = decoder.feed(wheel(100, 0), 0) + decoder.feed(wheel(200, 2048), round(gap_s * S))
    readings += decoder.feed(wheel(220, 3072), round((gap_s + 1) * S))
    assert pairs(readings) == [(0.0, 0.0), (None, None), (0.0, 0.0), (20.0, 1.0)]
    assert [r.quality for r in readings if r.value is None] == [Quality.LOST, Quality.LOST]


def test_a_gap_below_a_clocks_turn_is_bridged() -> None:
    decoder = CountsDecoder(0, 1, 1)
    readings = decoder.feed(wheel(100, 0), 0) + decoder.feed(wheel(200, 59 * 1024), 59 * S)
    assert pairs(readings) == [(0.0, 0.0), (100.0, 59.0)]


def test_the_same_event_again_is_no_reading_and_no_standstill() -> None:
    decoder = CountsDecoder(0, 1, 1)
    decoder.feed(wheel(100, 0), 0)
    assert decoder.feed(wheel(100, 0), S) == []
    assert "shaft seems to stand" in decoder.awaited
    assert pairs(decoder.feed(wheel(101, 2048), 2 * S)) == [(1.0, 2.0)]
    assert decoder.awaited == ""


def test_a_shaft_that_stood_for_more_than_a_clocks_turn_starts_afresh() -> None:
    """Packets kept coming, but the last event is too old to measure from."""
    decoder = CountsDecoder(0, 1, 1)
    decoder.feed(wheel(100, 0), 0)
    for second in range(1, 70):
        assert decoder.feed(wheel(100, 0), second * S) == []
    assert pairs(decoder.feed(wheel(101, 6 * 1024), 70 * S)) == [(None, None), (0.0, 0.0)]


@pytest.mark.parametrize(
    "after",
    [
        wheel(3, 1024),  # the count fell: the device was switched off and on
        wheel(90, 1024),  # turned backwards, or set back
        wheel(100_000, 1024),  # no shaft turns that fast
        wheel(101, 0),  # a further turn at the very same time
        wheel(120, 40 * 1024),  # its clock ran 40 s in the 1 s between the packets
    ],
)
def test_a_device_that_was_set_back_starts_afresh(after: bytes) -> None:
    decoder = CountsDecoder(0, 1, 1)
    decoder.feed(wheel(100, 0), 0)
    assert pairs(decoder.feed(after, S)) == [(None, None), (0.0, 0.0)]


def test_marks_make_revolutions() -> None:
    decoder = CountsDecoder(0, 1, 4)
    readings = decoder.feed(wheel(0, 0), 0) + decoder.feed(wheel(10, 512), S // 2)
    assert pairs(readings) == [(0.0, 0.0), (2.5, 0.5)]


def test_the_count_first_seen_is_kept_to() -> None:
    decoder = CountsDecoder(0, 1, 1, "either")
    decoder.feed(both(wheel(5, 0), crank(7, 0)), 0)
    assert decoder.feed(crank(8, 1024), S) == []
    assert "only the other one" in decoder.awaited
    assert pairs(decoder.feed(both(wheel(6, 1024), crank(8, 1024)), S)) == [(1.0, 1.0)]
    cranks = CountsDecoder(0, 1, 1, "either")
    cranks.feed(b"\x00", 0)
    readings = cranks.feed(crank(7, 0), 0) + cranks.feed(both(wheel(9, 9), crank(9, 1024)), S)
    assert pairs(readings) == [(0.0, 0.0), (2.0, 1.0)]


def test_a_loss_starts_the_count_afresh_without_a_second_word() -> None:
    decoder = CountsDecoder(0, 1, 1)
    decoder.feed(wheel(100, 0), 0)
    decoder.resync()
    assert pairs(decoder.feed(wheel(150, 1024), S)) == [(0.0, 0.0)]


def test_bad_packets_are_told_on_both_channels_and_change_nothing() -> None:
    decoder = CountsDecoder(0, 1, 1)
    decoder.feed(wheel(100, 0), 0)
    bad = decoder.feed(b"\x01\x00", S // 2)
    assert bad == [Reading(n, S // 2, None, Quality.BAD_FRAME) for n in (0, 1)]
    assert pairs(decoder.feed(wheel(120, 1024), S)) == [(20.0, 1.0)]


def test_without_a_clock_channel_only_revolutions_come() -> None:
    assert CountsDecoder(3, None, 1).feed(wheel(1, 2), 5) == [Reading(3, 5, 0.0)]


@given(st.lists(st.tuples(st.integers(0, 400), st.floats(0.1, 10.0)), max_size=60), st.integers(0, 2**32 - 1))
def test_any_steady_history_is_followed_through_all_wraps(steps: list[tuple[int, float]], start: int) -> None:
    """Counts and ticks taken modulo their sizes come out as the running sums that went in."""
    decoder = CountsDecoder(0, 1, 1, most_rpm=1e6)
    count, ticks = start, start % 65_536
    decoder.feed(wheel(count % 2**32, ticks % 65_536), 0)
    first_ticks = ticks
    for counted, seconds in steps:
        count += counted
        ticks += max(1, round(seconds * 1024))
        t_ns = (ticks - first_ticks) * S // 1024
        readings = decoder.feed(wheel(count % 2**32, ticks % 65_536), t_ns)
        assert pairs(readings) == [(count - start, (ticks - first_ticks) / 1024)]
