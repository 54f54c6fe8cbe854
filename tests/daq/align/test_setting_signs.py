"""Signs of wrong settings over windows of readings that are built from what matters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pytest
from numpy.typing import NDArray

from daq.align.setting_signs import setting_signs
from daq.model.reading import Quality

Floats = NDArray[np.float64]
SPEED_T = np.arange(0.3, 30.0, 0.5)
VOLTS_T = np.arange(0.0, 30.4, 0.3)
V_PER_RPM = 19.6 / 3600


def sweep(t: Floats, low: float = 1800.0, high: float = 3600.0) -> Floats:
    """Up and down once in 30 s."""
    return low + (high - low) * (0.5 - 0.5 * np.cos(2 * np.pi * t / 30.0))


def steady(t: Floats, rpm: float = 3600.0, share: float = 0.01) -> Floats:
    """A governed engine that hunts a little."""
    return rpm * (1.0 + share * np.sin(2 * np.pi * t / 2.7))


@dataclass
class Window:
    """An honest run; tests change what matters."""

    speed: Floats = field(default_factory=lambda: np.round(sweep(SPEED_T)))
    volts: Floats = field(default_factory=lambda: np.round(sweep(VOLTS_T - 0.4) * V_PER_RPM, 2))

    def signs(
        self,
        speed_counts: Mapping[Quality, int] | None = None,
        volts_counts: Mapping[Quality, int] | None = None,
    ) -> list[str]:
        return setting_signs(
            SPEED_T,
            self.speed,
            VOLTS_T,
            self.volts,
            speed_counts=speed_counts,
            volts_counts=volts_counts,
        )


def only(signs: list[str]) -> str:
    assert len(signs) == 1, signs
    return signs[0]


@pytest.mark.parametrize(
    "window",
    [
        Window(),
        Window(np.round(steady(SPEED_T)), np.round(steady(VOLTS_T) * V_PER_RPM, 2)),
        Window(np.round(steady(SPEED_T, share=0.0)), np.round(steady(VOLTS_T, share=0.0) * V_PER_RPM, 2)),
        Window(
            np.round(steady(SPEED_T, 3000.0, 0.03)), np.round(steady(VOLTS_T, 3000.0, 0.03) * V_PER_RPM, 1)
        ),
        Window(np.round(steady(SPEED_T), -2), np.round(steady(VOLTS_T) * V_PER_RPM, 0)),
        Window(np.full(len(SPEED_T), np.nan)),
        Window(volts=np.full(len(VOLTS_T), np.nan)),
    ],
    ids=[
        "sweep",
        "governed",
        "dead steady at 3600",
        "hunting at 3000",
        "coarse digits",
        "no speed",
        "no volts",
    ],
)
def test_an_honest_run_shows_no_sign(window: Window) -> None:
    assert window.signs() == []


def test_steps_of_the_throttle_are_no_multiples() -> None:
    def step(t: Floats) -> Floats:
        return np.where((t < 10.0) | (t >= 20.0), 1800.0, 3600.0)

    window = Window(step(SPEED_T), np.round(step(VOLTS_T - 0.4) * V_PER_RPM, 2))
    assert window.signs() == [], "twice the speed for a moment, before the volts have followed"


@pytest.mark.parametrize("seed", range(20))
def test_noise_makes_no_sign(seed: int) -> None:
    rng = np.random.default_rng(seed)
    window = Window()
    window.speed = window.speed * rng.normal(1.0, 0.01, len(SPEED_T))
    window.volts = window.volts * rng.normal(1.0, 0.01, len(VOLTS_T))
    assert window.signs() == []


def test_held_volts() -> None:
    window = Window(volts=np.where(VOLTS_T < 5.0, np.round(sweep(VOLTS_T) * V_PER_RPM, 2), 12.34))
    sign = only(window.signs())
    assert sign.startswith("The volts stood at 12.34 V to the digit for 25 s while the speed went from ")
    assert sign.endswith("press the meter's HOLD, MAX or MIN off.")


def test_volts_that_stand_while_the_speed_stands_are_not_held() -> None:
    window = Window(np.round(steady(SPEED_T, share=0.002)), np.full(len(VOLTS_T), 19.6))
    assert window.signs() == []


def test_a_coarse_meter_is_not_held() -> None:
    """4.5 % of speed is less than one digit of a meter that shows whole volts."""
    window = Window(
        np.round(sweep(SPEED_T, 3520.0, 3680.0)), np.round(sweep(VOLTS_T, 3520.0, 3680.0) * 10.0 / 3600)
    )
    window.volts[0] = 9.0
    assert window.signs() == []


def test_a_held_tachometer() -> None:
    window = Window(np.where(SPEED_T < 8.0, np.round(sweep(SPEED_T)), 2412.0))
    sign = only(window.signs())
    assert sign.startswith("The speed stood at 2412 rpm to the digit for 22 s while the volts went from ")
    assert "Aim it at the mark again" in sign


@pytest.mark.parametrize(("rpm", "flashes"), [(3000.0, 50), (3600.0, 60), (6000.0, 100), (7200.0, 120)])
@pytest.mark.parametrize("jitter", [0.0, 2.0])
def test_a_tachometer_that_counts_lamps(rpm: float, flashes: int, jitter: float) -> None:
    rng = np.random.default_rng(1)
    window = Window(np.round(rpm + jitter * rng.standard_normal(len(SPEED_T))))
    sign = only(window.signs())
    where = f"at {rpm:.0f} rpm" if jitter == 0.0 else f"rpm of {rpm:.0f} rpm"
    assert f"{where} while the volts move" in sign
    assert f"at {flashes} flashes a second" in sign
    assert "shade the lamps" in sign


def test_a_tachometer_that_falls_for_the_lamps_now_and_then() -> None:
    window = Window()
    window.speed[::2] = 6000.0
    assert "stands at 6000 rpm" in only(window.signs())


def test_another_speed_is_no_lamp() -> None:
    window = Window(np.round(steady(SPEED_T, 3300.0, 0.0005)))
    assert not any("lamp" in sign for sign in window.signs())


@pytest.mark.parametrize(
    ("level_v", "told"),
    [
        (0.0, "stay near 0"),
        (0.05, "stay near 0"),
        (12.6, "look like the battery's"),
        (14.4, "look like the battery's"),
        (27.0, "do not follow the speed"),
    ],
)
def test_volts_that_do_not_follow_the_speed(level_v: float, told: str) -> None:
    rng = np.random.default_rng(2)
    window = Window(volts=np.round(level_v + 0.02 * rng.standard_normal(len(VOLTS_T)), 2))
    sign = only(window.signs())
    assert told in sign
    assert "from 19" in sign or "from 18" in sign
    assert "AC volts (V~)" in sign


def test_a_dead_zero_is_leads_and_not_a_held_display() -> None:
    assert "stay near 0" in only(Window(volts=np.zeros(len(VOLTS_T))).signs())


@pytest.mark.parametrize(("share", "sign"), [(0.1, True), (0.3, False), (0.5, False), (1.0, False)])
def test_volts_that_follow_in_part_are_no_setting(share: float, sign: bool) -> None:
    """Sag under load, a bad winding: for the verdict to judge, not for the settings. The limit is a fifth."""
    volts = V_PER_RPM * (3600.0 + share * (sweep(VOLTS_T - 0.4) - 3600.0))
    assert any("follow" in text for text in Window(volts=np.round(volts, 2)).signs()) is sign


@pytest.mark.parametrize(
    ("factor", "every", "told"),
    [
        (2.0, 10, "6 of 60 speed readings are twice what the volts say: the tachometer counts a second spot"),
        (0.5, 10, "6 of 60 speed readings are half of what the volts say: the tachometer misses the mark"),
    ],
)
def test_marks_counted_twice_or_missed(factor: float, every: int, told: str) -> None:
    window = Window()
    window.speed[::every] *= factor
    assert only(window.signs()).startswith(told)


def test_when_nearly_half_are_doubled_both_ways_are_named() -> None:
    window = Window()
    window.speed[: len(SPEED_T) * 6 // 10] *= 2.0
    sign = only(window.signs())
    assert "are half of what the volts say, or the others are twice" in sign


def test_one_odd_reading_is_no_sign() -> None:
    window = Window()
    window.speed[17] *= 2.0
    assert window.signs() == []


@pytest.mark.parametrize(
    ("quality", "volts_words", "speed_words"),
    [
        (Quality.WRONG_FUNCTION, "turn the meter to AC volts (V~)", "set the tachometer to rpm"),
        (Quality.HOLD, "HOLD, MAX or MIN off", "back from its memory"),
        (Quality.LOW_BATTERY, "fresh battery into the meter", "fresh battery into it"),
        (Quality.OVERLOAD, "higher range", "beyond the tachometer's range"),
        (Quality.BLANK, "fix the range by hand", "aim the tachometer"),
        (Quality.NOT_A_NUMBER, "display", "aim the tachometer"),
        (Quality.BAD_FRAME, "line speed", "line speed"),
        (Quality.LOST, "cable", "cable"),
    ],
)
def test_flags_say_what_to_do(quality: Quality, volts_words: str, speed_words: str) -> None:
    counts = {Quality.GOOD: 20, quality: 10}
    assert volts_words in only(Window().signs(volts_counts=counts))
    assert speed_words in only(Window().signs(speed_counts=counts))
    assert only(Window().signs(volts_counts=counts)).startswith("10 of 30 volts readings ")


@pytest.mark.parametrize("count", [0, 1, 2])
def test_a_flag_now_and_then_is_no_sign(count: int) -> None:
    assert Window().signs(volts_counts={Quality.GOOD: 5, Quality.OVERLOAD: count}) == []
    assert Window().signs(volts_counts={Quality.GOOD: 95, Quality.OVERLOAD: 5}) == []


def test_flags_need_no_values() -> None:
    none = np.empty(0)
    signs = setting_signs(none, none, none, none, volts_counts={Quality.WRONG_FUNCTION: 9, Quality.HOLD: 3})
    assert [sign.split(" readings ")[0] for sign in signs] == ["9 of 12 volts", "3 of 12 volts"]


def test_an_engine_that_swings_about_a_lamps_speed_is_no_lamp() -> None:
    """Read once a second, hunting at 0.9 Hz looks like a slow swing of 12 rpm: two fifths of it are near 3600."""
    window = Window(np.round(3600.0 + 12.0 * np.sin(2.0 * np.pi * 0.1 * SPEED_T)))
    assert int(np.sum(np.abs(window.speed - 3600.0) <= 7.2)) > 0.35 * len(SPEED_T)
    assert not any("lamp" in sign for sign in window.signs())
