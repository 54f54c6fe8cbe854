"""What the loads draw: measured, listed, and on the average."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.job.charge.drawn import Drawn, drawn_by_loads
from daq.job.judging.given import Given
from tests.daq.job.builders import CART, given, observed


def drawn(found: Given) -> Drawn:
    result = drawn_by_loads(found)
    assert result is not None
    return result


def test_the_cards_loads_share_what_was_measured() -> None:
    """The card lists 4 A for half of the time and 2 A always; 5.4 A were measured, a tenth less than the sum."""
    found = drawn(given(load_current=5.4))
    assert found.measured
    assert found.all_on.value == pytest.approx(5.4)
    assert dict(found.by_load) == {"pump": pytest.approx(1.8), "lamp": pytest.approx(1.8)}
    assert found.mean.value == pytest.approx(3.6)


def test_what_is_drawn_beyond_the_list_is_on_all_the_time() -> None:
    found = drawn(given(load_current=10.0))
    assert dict(found.by_load) == {
        "pump": pytest.approx(2.0),
        "lamp": pytest.approx(2.0),
        "loads not on the card": pytest.approx(4.0),
    }
    assert found.mean.value == pytest.approx(8.0)


def test_a_little_more_than_the_list_is_nobodys() -> None:
    assert [name for name, _ in drawn(given(load_current=6.2)).by_load] == ["pump", "lamp"]


def test_without_a_list_all_is_on_all_the_time() -> None:
    found = drawn(given(machine=replace(CART, load=()), load_current=6.0))
    assert found.by_load == (("loads not on the card", 6.0),)
    assert found.u_spared == 0.0


def test_without_a_measurement_the_cards_sum_is_good_to_a_tenth() -> None:
    found = drawn(given())
    assert not found.measured
    assert found.all_on.value == 6.0
    assert found.all_on.u == pytest.approx(0.6 / 3**0.5)
    assert found.mean.u == pytest.approx(found.all_on.u * 4.0 / 6.0)
    assert found.u_spared == pytest.approx(found.all_on.u * 2.0 / 6.0)


def test_a_reversed_meter_still_measures_what_is_drawn() -> None:
    assert drawn(given(observed("load_current", -6.0))).all_on.value == 6.0


def test_nothing_known_is_nothing() -> None:
    assert drawn_by_loads(given(machine=replace(CART, load=()))) is None
