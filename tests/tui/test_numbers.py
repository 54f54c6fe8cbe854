"""How numbers are written."""

from __future__ import annotations

import pytest

from tui.view import numbers


@pytest.mark.parametrize(
    ("uncertainty", "decimals"),
    [(0.312, 2), (0.0996, 2), (0.099, 3), (1.0, 1), (9.96, 0), (9.94, 1), (12.0, 0), (0.0, 3), (1e-9, 6)],
)
def test_two_significant_digits(uncertainty: float, decimals: int) -> None:
    assert numbers.two_digit_decimals(uncertainty) == decimals


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        # JCGM 100:2008, 7.2.6: "if y = 10,057 62 ohm with u = 27 milliohm, y should be rounded to 10,058 ohm".
        (10.05762, 0.027, "10.058 V ± 0.027 V"),
        (24.612, 0.312, "24.61 V ± 0.31 V"),
        (-0.001, 0.05, "-0.001 V ± 0.050 V"),
        (-0.0001, 0.05, "0.000 V ± 0.050 V"),
        (24.6, None, "24.6 V (uncertainty not known)"),
    ],
)
def test_value_with_uncertainty(value: float, uncertainty: float | None, text: str) -> None:
    assert numbers.with_uncertainty(value, uncertainty, "V") == text


@pytest.mark.parametrize(
    ("uncertainty", "previous", "decimals"),
    [
        (0.1, None, 2),
        (0.3, None, 1),
        (3.0, None, 0),
        (None, None, 1),
        (None, 2, 2),
        (0.21, 2, 2),
        (0.25, 2, 1),
        (0.19, 1, 1),
        (0.15, 1, 2),
        (2.1, 1, 1),
        (1.9, 0, 0),
    ],
)
def test_the_last_digit_does_not_come_and_go(
    uncertainty: float | None, previous: int | None, decimals: int
) -> None:
    assert numbers.screen_decimals(uncertainty, previous) == decimals


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.99999, "over 99.9 %"), (1.0, "over 99.9 %"), (0.0, "under 0.1 %"), (0.714, "71.4 %")],
)
def test_a_probability_never_rounds_to_certainty(probability: float, text: str) -> None:
    assert numbers.percent(probability) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.04, "0.0 s"), (9.94, "9.9 s"), (9.96, "10 s"), (119.0, "119 s"), (240.0, "4 min")]
)
def test_lengths_of_time(value: float, text: str) -> None:
    assert numbers.seconds(value) == text


@pytest.mark.parametrize(("value", "text"), [(7.9, "0:07"), (750, "12:30"), (3723, "1:02:03"), (-1, "0:00")])
def test_session_time(value: float, text: str) -> None:
    assert numbers.clock(value) == text
