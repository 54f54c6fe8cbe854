"""A reading of a job while it is recorded: its words, and its screen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.model.quantity import Quantity
from daq.model.reading import Quality
from daq.run.rows import RawSeries
from daq.run.snapshot import ChannelNow, OtherChannel, Snapshot
from tests.tui.builders import CLOSED, RecordingControl, StillFeed, empty_snapshot
from tests.tui.snapshots import assert_same_screen, screen_text
from tui.dashboard.app import Dashboard
from tui.dashboard.taking_screen import TakingScreen
from tui.view.taking import Taking, taking_view

STOPPED = Taking("Record: battery volts at rest", Quantity.DC_VOLTAGE, "Engine stopped.", 7.0)


def reading(
    value: float | None, quantity: Quantity = Quantity.DC_VOLTAGE, *, t_s: float = 3.0, **changes: object
) -> Snapshot:
    """A recording of one quantity, three seconds old."""
    now = replace(ChannelNow(quantity.unit, value, Quality.GOOD, 0.1), **changes)  # type: ignore[arg-type]  # a builder takes any field
    times = np.arange(0.0, t_s, 0.2)
    values = np.full(len(times), np.nan if value is None else value)
    return empty_snapshot(t_s=t_s, others=(OtherChannel(quantity, now, RawSeries(times, values)),))


@pytest.mark.parametrize(
    ("quantity", "value", "digits", "unit"),
    [
        (Quantity.DC_VOLTAGE, 12.614, " 12.61", "V"),
        (Quantity.DC_VOLTAGE, -0.001, "  0.00", "V"),
        (Quantity.DC_CURRENT, -5.6, " -5.60", "A"),
        (Quantity.RESISTANCE, 0.2512, " 0.251", "Ω"),
        (Quantity.RESISTANCE, 12.3456, " 12.35", "Ω"),
        (Quantity.RESISTANCE, 4700.0, " 4.700", "kΩ"),
        (Quantity.RESISTANCE, 12_345_678.0, " 12.35", "MΩ"),
        (Quantity.TEMPERATURE, 21.5, " 21.50", "°C"),
        (Quantity.DC_VOLTAGE, 999.96, "  1000", "V"),
    ],
)
def test_a_reading_in_block_digits(quantity: Quantity, value: float, digits: str, unit: str) -> None:
    view = taking_view(reading(value, quantity), replace(STOPPED, quantity=quantity))
    assert (view.digits, view.unit) == (digits, unit)


def test_what_the_engine_is_to_do_and_for_how_long() -> None:
    view = taking_view(reading(12.6), STOPPED)
    assert view.now == "Engine stopped. 4.0 s more."
    assert view.progress == "3 of 7 s"
    assert view.share == pytest.approx(3 / 7)
    assert view.speed == ""
    after = taking_view(reading(12.6, t_s=9.0), STOPPED)
    assert "q closes it" in after.now
    assert after.progress == "7 of 7 s"
    assert after.share == 1.0


def test_it_never_asks_to_start_an_engine_that_must_stand() -> None:
    for snapshot in (reading(12.6), reading(None), empty_snapshot()):
        assert "throttle" not in taking_view(snapshot, STOPPED).now
        assert "start" not in taking_view(snapshot, STOPPED).now.lower()


@pytest.mark.parametrize(
    ("snapshot", "digits", "said"),
    [
        (empty_snapshot(), "  --.-", "Nothing has come yet: is it on, at DC volts"),
        (reading(12.6, age_s=9.0), "  --.-", "Nothing for 9 s"),
        (reading(12.6, quality=Quality.WRONG_FUNCTION), " 12.60", "turn the dial to DC volts"),
        (reading(None, quality=Quality.BAD_FRAME), "  --.-", "Engine stopped."),
        (reading(None, quality=Quality.OVERLOAD), "    OL", "Engine stopped."),
    ],
)
def test_what_is_wrong_is_told(snapshot: Snapshot, digits: str, said: str) -> None:
    view = taking_view(snapshot, STOPPED)
    assert view.digits == digits
    assert said in view.now


def test_an_open_circuit_is_over_range_in_words_too() -> None:
    view = taking_view(
        reading(None, Quantity.RESISTANCE, quality=Quality.OVERLOAD),
        replace(STOPPED, quantity=Quantity.RESISTANCE),
    )
    assert view.digits.strip() == "OL"
    assert view.words == Quality.OVERLOAD.words


def test_ac_volts_and_speed_are_found_where_the_run_screen_has_them() -> None:
    snapshot = empty_snapshot(
        voltage=ChannelNow("V", 0.31, Quality.GOOD, 0.1), speed=ChannelNow("rpm", 3591.0, Quality.GOOD, 0.1)
    )
    ripple = taking_view(snapshot, replace(STOPPED, quantity=Quantity.AC_VOLTAGE))
    assert (ripple.digits, ripple.speed) == ("  0.31", "3591 rpm")
    speed = taking_view(snapshot, replace(STOPPED, quantity=Quantity.ROTATIONAL_SPEED))
    assert (speed.digits, speed.unit) == ("  3591", "rpm")


def test_the_axis_holds_still() -> None:
    first = taking_view(reading(12.6), STOPPED)
    second = taking_view(reading(12.63, t_s=3.2), STOPPED, first)
    assert (first.trace.y_low, first.trace.y_high) == (second.trace.y_low, second.trace.y_high)
    assert first.trace.y_low <= 12.6 <= first.trace.y_high


@pytest.mark.parametrize("size", [(80, 24), (120, 40)], ids=["80x24", "120x40"])
async def test_its_screen_looks_as_it_did(size: tuple[int, int]) -> None:
    feed, control = StillFeed(reading(12.614)), RecordingControl()
    app = Dashboard(TakingScreen(feed, control, STOPPED), light=False)
    async with app.run_test(size=size) as pilot:
        screen = app.first
        assert isinstance(screen, TakingScreen)
        while screen.taken is None:
            await pilot.pause(0.02)
            screen.tick()
        await pilot.pause(0.1)
        assert_same_screen(app, f"taking-{size[0]}x{size[1]}")


async def test_q_closes_it_and_nothing_of_the_rated_output_is_offered() -> None:
    feed, control = (
        StillFeed(reading(None, Quantity.RESISTANCE, quality=Quality.OVERLOAD)),
        RecordingControl(),
    )
    ohms = replace(STOPPED, quantity=Quantity.RESISTANCE)
    app = Dashboard(TakingScreen(feed, control, ohms), light=False, plain=True)
    async with app.run_test(size=(80, 24)) as pilot:
        screen = app.first
        assert isinstance(screen, TakingScreen)
        while screen.taken is None:
            await pilot.pause(0.02)
            screen.tick()
        await pilot.pause(0.1)
        text = screen_text(app)
        assert "rated" not in text
        assert text.isascii()
        assert "ohm" in text
        assert " plot" not in text.splitlines()[-1]
        await pilot.press("q")
        assert control.stops == 1
        feed.snapshot = replace(reading(12.6), finished=True, close=CLOSED)
        screen.tick()
        await pilot.pause()
        assert not app.is_running
