"""No published check of the list is forgotten: each has a test that names it, or a reason why it has none."""

from __future__ import annotations

import importlib
from collections import Counter
from pathlib import Path

import pytest

from tests.outside.published import LEFT_OUT, ORIGINS

MODULES = (
    "test_uncertainty",
    "test_meter_budget",
    "test_limits_of_acceptance",
    "test_regression",
    "test_speed_and_poles",
    "test_proportion_to_speed",
    "test_waveforms",
    "test_lag_bound",
)
EXPECTED = {"G": 14, "E": 6, "J": 7, "N": 5, "S": 5, "V": 8, "F": 7, "L": 6}


def checks_with_a_test() -> Counter[str]:
    found: Counter[str] = Counter()
    for name in MODULES:
        module = importlib.import_module(f"tests.outside.{name}")
        for attribute in vars(module).values():
            found.update(origin.check for origin in getattr(attribute, "origins", ()))
    return found


def test_the_list_is_whole() -> None:
    wanted = {f"{letter}{i}" for letter, count in EXPECTED.items() for i in range(1, count + 1)}
    assert set(ORIGINS) == wanted


@pytest.mark.parametrize("check", sorted(ORIGINS))
def test_each_check_has_a_test_or_a_reason(check: str) -> None:
    assert (check in checks_with_a_test()) != (check in LEFT_OUT)


def test_the_modules_are_all_of_them() -> None:
    """A module that uses the published values is in the list above."""
    here = Path(__file__).parent
    users = {p.stem for p in here.glob("test_*.py") if "import held_against" in p.read_text(encoding="utf-8")}
    users |= {p.stem for p in here.glob("test_*.py") if "    held_against," in p.read_text(encoding="utf-8")}
    assert users - {Path(__file__).stem} <= set(MODULES)
