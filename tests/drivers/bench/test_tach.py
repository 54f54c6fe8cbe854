"""The tach's window, its text, its false readings and its gap."""

from __future__ import annotations

from random import Random

import pytest

from drivers.bench.tach import Tach, TachLine

STEP_S = 0.005


def lines(
    tach: Tach, seconds: float, speed_rpm: float = 3600.0, ramp_rpm_per_s: float = 0.0
) -> list[TachLine]:
    found = []
    for k in range(1, round(seconds / STEP_S) + 1):
        t_s = k * STEP_S
        tach.observe(t_s, (speed_rpm * t_s + 0.5 * ramp_rpm_per_s * t_s * t_s) / 60.0)
        found.extend(tach.take(t_s))
    return found


def rpm(line: TachLine) -> int:
    number, unit = line.text.split()
    assert unit == "rpm"
    return int(number)


def test_a_line_every_half_second_a_little_late() -> None:
    found = lines(Tach(Random(1), STEP_S), 2.2)
    assert [line.ready_s for line in found] == pytest.approx([0.55, 1.05, 1.55, 2.05], abs=1e-9)
    assert all(line.wire.endswith(b" rpm\r\n") for line in found)


def test_each_line_is_the_mean_over_the_window_just_gone() -> None:
    tach = Tach(Random(1), STEP_S)
    found = [rpm(line) for line in lines(tach, 2.2, 1800.0, ramp_rpm_per_s=200.0)]
    # a ramp's mean over a window is its value in the middle: 0.25 s, 0.75 s ...
    expected = [(1800.0 + 200.0 * t_s) * (1 + tach.scale_error) for t_s in (0.25, 0.75, 1.25, 1.75)]
    assert found == pytest.approx(expected, abs=0.51)


def test_its_own_error_is_within_its_accuracy() -> None:
    errors = [Tach(Random(seed), STEP_S).scale_error for seed in range(200)]
    assert max(errors) <= 0.0005
    assert min(errors) >= -0.0005
    assert max(errors) - min(errors) > 0.0008


def test_false_lines_count_twice_in_their_share() -> None:
    found = [rpm(line) for line in lines(Tach(Random(1), STEP_S, false_share=0.2), 500.0)]
    doubled = [value for value in found if value > 5000]
    assert all(abs(value - 7200) <= 4 for value in doubled)
    assert 0.15 < len(doubled) / len(found) < 0.25


def test_no_false_lines_unless_asked_for() -> None:
    assert all(abs(rpm(line) - 3600) <= 2 for line in lines(Tach(Random(1), STEP_S), 100.0))


def test_a_gap_is_silence_and_the_line_after_it_is_good() -> None:
    found = lines(Tach(Random(1), STEP_S, gap=(2.0, 3.0)), 8.0)
    silent = [line.ready_s for line in found if 2.0 <= line.ready_s - 0.05 < 5.0]
    assert silent == []
    assert len(found) == 15 - 6
    assert all(abs(rpm(line) - 3600) <= 2 for line in found)
