"""The one sentence that tells what is happening."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from daq.model.reading import Quality
from daq.run.snapshot import ChannelNow, Snapshot
from daq.verdict.result import Result
from tests.tui.builders import CLOSED, empty_snapshot, health, result, snapshot
from tui.view.doing import now_sentence

VOLTS = ChannelNow("V", 24.5, Quality.GOOD, 0.1)
OPEN = result(verdict="too_close")
RPM = ChannelNow("rpm", 3600.0, Quality.GOOD, 0.2)


def steady(time_s: np.ndarray) -> np.ndarray:
    return np.full(len(time_s), 3600.0)


def swinging(time_s: np.ndarray) -> np.ndarray:
    return 3600.0 + 80.0 * np.sin(2 * np.pi * time_s)


@pytest.mark.parametrize(
    ("state", "sentence"),
    [
        (empty_snapshot(), "Waiting for the first readings."),
        (empty_snapshot(speed=RPM), "No volts yet: is the meter awake and its lead on the winding?"),
        (empty_snapshot(voltage=VOLTS), "No tach readings yet: is the tape clean and the beam on it?"),
        (
            snapshot(health=(health("text-speed", state="lost", text="There is no port COM9."),)),
            "text-speed: There is no port COM9.",
        ),
        (
            snapshot(
                health=(
                    health(state="lost", text="There is no port COM8."),
                    health("text-speed", state="lost", text="There is no port COM9."),
                )
            ),
            "scpi-meter and text-speed are lost: There is no port COM8. There is no port COM9.",
        ),
        (
            snapshot(health=tuple(health(name, state="lost") for name in ("meter", "tach", "clamp"))),
            "meter, tach and clamp are lost: its link broke; it is tried again.",
        ),
        (
            snapshot(speed=replace(RPM, age_s=4.2)),
            "No tach readings for 4 s: is the tape clean and the beam on it?",
        ),
        (
            snapshot(voltage=replace(VOLTS, age_s=6.0)),
            "No volts for 6 s: is the meter awake and its lead on the winding?",
        ),
        (
            snapshot(voltage=replace(VOLTS, age_s=6.0), speed=replace(RPM, age_s=5.0)),
            "Nothing comes any more since 5 s: check both cables.",
        ),
        (
            snapshot(200.0, speed=replace(RPM, age_s=130.0)),
            "The tach is silent since 1:10 (2 min): is the tape clean and the beam on it?",
        ),
        (
            snapshot(200.0, voltage=replace(VOLTS, age_s=70.0)),
            "The meter is silent since 2:10 (70 s): is the meter awake and its lead on the winding?",
        ),
        (
            snapshot(200.0, voltage=replace(VOLTS, age_s=70.0), speed=replace(RPM, age_s=140.0)),
            "Both instruments are silent since 2:10 (70 s): check both cables.",
        ),
        (
            snapshot(voltage=replace(VOLTS, value=None, quality=Quality.OVERLOAD)),
            "The meter shows overload: choose a higher range.",
        ),
        (
            snapshot(speed=replace(RPM, quality=Quality.HOLD)),
            "The tach holds its display: release its hold key.",
        ),
        (snapshot(voltage=replace(VOLTS, quality=Quality.LOST)), "The meter gives no value: lost."),
        (
            snapshot(speed=replace(RPM, value=0.0), result=OPEN),
            "The engine stands: start it and warm it up as its manual says.",
        ),
        (
            snapshot(speed=replace(RPM, value=2880.0), result=OPEN),
            "More throttle: 720 rpm to go to 3600 rpm.",
        ),
        (
            snapshot(speed=replace(RPM, value=3784.0), result=OPEN),
            "A little less throttle: 180 rpm to go to 3600 rpm.",
        ),
        (
            snapshot(speed=replace(RPM, value=3784.0)),
            "Known: 24.6 V ± 0.31 V. For a hold: a little less throttle, 180 rpm to go.",
        ),
        (
            snapshot(speed=replace(RPM, value=0.0)),
            "Known: 24.6 V ± 0.31 V. The engine stands; the run can be closed.",
        ),
        (snapshot(4.0, steady, result=OPEN), "Hold 3600 rpm for 7 s more."),
        (snapshot(4.0, steady), "Known: 24.6 V ± 0.31 V. For a hold at 3600 rpm: 7 s more."),
        (snapshot(20.0, steady), "Held 3600 rpm for 20 s: 24.6 V ± 0.31 V. The run can be closed."),
        (
            snapshot(20.0, steady, result=result(verdict="no_limit")),
            "Held 3600 rpm for 20 s: 24.6 V ± 0.31 V.",
        ),
        (
            snapshot(20.0, steady, result=result(rated_voltage_V=None)),
            "Hold 3600 rpm for 1 s more.",
        ),
        (snapshot(20.0, swinging, result=OPEN), "At 3600 rpm: leave the throttle and let the speed settle."),
        (
            snapshot(20.0, swinging),
            "Known: 24.6 V ± 0.31 V. For a hold at 3600 rpm: let the speed settle.",
        ),
        (
            snapshot(machine=None),
            "Readings come; without a machine card there is no rated speed to hold.",
        ),
        (snapshot(finished=True, close=CLOSED), "The run is closed: stopped by hand or by a signal."),
        (snapshot(finished=True), "Cut off: the recording ends here and was never closed."),
    ],
)
def test_sentence(state: Snapshot, sentence: str) -> None:
    assert now_sentence(state)[0] == sentence


LOADED = (
    "A current of 6.2 A flowed during the run, into the battery by its sign: disconnect the load and repeat."
)
LONGER = "Hold the engine near rated speed for about 20 s more to decide it."


@pytest.mark.parametrize(
    ("outcome", "sentence"),
    [
        (
            result(verdict="not_enough_data", rated_voltage_V=None, reasons=[LOADED, "More."]),
            f"No result from this hold: {LOADED}",
        ),
        (
            result(verdict="not_enough_data", rated_voltage_V=None, reasons=["A \x1b[31mred one."]),
            "No result from this hold: A red one.",
        ),
        (result(verdict="not_enough_data", rated_voltage_V=None, reasons=[]), "Hold 3600 rpm for 1 s more."),
        (
            result(verdict="too_close", reasons=["It is too close.", LONGER]),
            f"Held 3600 rpm for 20 s: 24.6 V ± 0.31 V. {LONGER}",
        ),
        (
            result(verdict="too_close", reasons=["It is too close.", "Something else."]),
            "Held 3600 rpm for 20 s: 24.6 V ± 0.31 V, too close to call.",
        ),
    ],
)
def test_a_hold_that_decides_nothing_says_why_and_what_would(outcome: Result, sentence: str) -> None:
    told, tone = now_sentence(snapshot(20.0, steady, result=outcome))
    assert told == sentence
    assert tone == ("good" if told.startswith("Hold ") else "doubt")
