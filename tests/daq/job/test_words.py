"""Numbers in sentences."""

from __future__ import annotations

import pytest

from daq.job.words import amount, plain


@pytest.mark.parametrize(
    ("value", "u", "unit", "text"),
    [
        (3.14, 0.2, "A", "3.1 ± 0.4 A"),
        (28.583, 0.082, "V", "28.58 ± 0.16 V"),
        (3583.2, 5.4, "rpm", "3583 ± 11 rpm"),
        (0.2503, 0.0026, "ohm", "0.250 ± 0.005 Ω"),
        (12.0, 0.0, "V", "12.00 V"),
        (-0.0004, 0.012, "V", "0.00 ± 0.02 V"),
        (4.0, float("inf"), "A", "4.00 ± inf A"),
    ],
)
def test_amounts(value: float, u: float, unit: str, text: str) -> None:
    assert amount(value, u, unit) == text


def test_a_sign_where_it_is_asked_for() -> None:
    assert amount(4.47, 0.03, "A", signed=True) == "+4.47 ± 0.06 A"
    assert amount(-4.47, 0.03, "A", signed=True) == "-4.47 ± 0.06 A"


def test_plain_values() -> None:
    assert plain(20.0, "V") == "20 V"
    assert plain(6.0, "") == "6"
