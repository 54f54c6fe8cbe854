"""Properties of the budget that no published example covers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from daq.rated.budget import Contribution, Distribution, combine, student_factor

SHAPES: tuple[Distribution, ...] = ("normal", "rectangular", "triangular", "arcsine")
PARTS = st.lists(
    st.builds(
        Contribution,
        st.just("part"),
        st.floats(1e-6, 10.0),
        st.sampled_from(SHAPES),
        st.floats(-5.0, 5.0).filter(lambda s: abs(s) > 1e-3),
        st.one_of(st.just(math.inf), st.floats(1.0, 200.0)),
    ),
    min_size=1,
    max_size=7,
)


@given(parts=PARTS, probability=st.sampled_from([0.68, 0.95, 0.99]))
@settings(max_examples=60, deadline=None)
def test_the_order_of_contributions_does_not_matter(parts: list[Contribution], probability: float) -> None:
    a, b = combine(parts, probability), combine(parts[::-1], probability)
    assert a.standard_uncertainty == pytest.approx(b.standard_uncertainty, rel=1e-12)
    assert a.coverage_factor == pytest.approx(b.coverage_factor, rel=1e-6)
    total = math.fsum((c.sensitivity * c.standard_uncertainty) ** 2 for c in parts)
    assert a.standard_uncertainty == pytest.approx(math.sqrt(total), rel=1e-12)


@given(parts=PARTS, scale=st.floats(1e-3, 1e3))
@settings(max_examples=40, deadline=None)
def test_units_do_not_matter(parts: list[Contribution], scale: float) -> None:
    scaled = [
        Contribution(
            c.name, scale * c.standard_uncertainty, c.distribution, c.sensitivity, c.degrees_of_freedom
        )
        for c in parts
    ]
    a, b = combine(parts), combine(scaled)
    assert b.standard_uncertainty == pytest.approx(scale * a.standard_uncertainty, rel=1e-9)
    assert b.coverage_factor == pytest.approx(a.coverage_factor, rel=1e-6)


@given(parts=PARTS)
@settings(max_examples=60, deadline=None)
def test_factor_lies_between_the_narrowest_shape_and_students_t(parts: list[Contribution]) -> None:
    budget = combine(parts)
    t = student_factor(budget.effective_degrees_of_freedom, 0.95)
    # An arcsine alone is the narrowest: 1.410 of its standard deviations hold 95 %.
    assert 1.40 * t / 1.96 < budget.coverage_factor < 1.01 * t
    assert budget.effective_degrees_of_freedom >= min(c.degrees_of_freedom for c in parts) - 1e-9


def test_nothing_uncertain() -> None:
    for parts in ([], [Contribution("none", 0.0)], [Contribution("no effect", 1.0, sensitivity=0.0)]):
        budget = combine(parts)
        assert budget.standard_uncertainty == 0.0
        assert budget.expanded_uncertainty == 0.0
        assert budget.largest is None


def test_the_largest_is_judged_by_its_effect() -> None:
    budget = combine([Contribution("big but idle", 5.0, sensitivity=0.01), Contribution("rules", 0.1)])
    assert budget.largest is not None
    assert budget.largest.name == "rules"


@pytest.mark.parametrize("shape", SHAPES[1:])
def test_single_shapes(shape: Distribution) -> None:
    """95 % of ±a: 0.95 a, (1 - sqrt(0.05)) a, sin(0.95 π/2) a, in standard deviations."""
    expected = {
        "rectangular": 0.95 * 3.0**0.5,
        "triangular": (1.0 - 0.05**0.5) * 6.0**0.5,
        "arcsine": math.sin(0.95 * math.pi / 2.0) * 2.0**0.5,
    }[shape]
    assert combine([Contribution("limit", 1.0, shape)]).coverage_factor == pytest.approx(expected, rel=2e-3)


def test_infinite_freedom_is_the_normal_factor() -> None:
    assert student_factor(math.inf, 0.95) == pytest.approx(1.959964, abs=1e-6)
    assert student_factor(1e9, 0.95) == pytest.approx(1.959964, abs=1e-6)
    assert student_factor(0.2, 0.95) == student_factor(1.0, 0.95)
