"""The plot of output against speed and loads: what stands in its words for each kind of budget."""

from __future__ import annotations

from msgspec.structs import replace

from daq.job.charge.budget import ChargeBudget, charge_budget
from daq.job.charge.output_curve import OutputCurve
from daq.job.evidence.observed import CurvePoint
from daq.report.content import Figure
from daq.report.figures.output_load import output_against_loads
from tests.daq.job.builders import CART, given, observed

_ONE = (CurvePoint(3600.0, 9.0, 0.1),)
_TWO = (CurvePoint(1800.0, 4.0, 0.1), *_ONE)
_THREE = (_TWO[0], CurvePoint(2700.0, 7.0, 0.1), *_ONE)


def _budget(*, loads: bool = True) -> ChargeBudget:
    machine = CART if loads else replace(CART, load=())
    readings = [
        observed("current_work", 3.0, 0.1, speed_rpm=3600.0),
        observed("current_idle", -2.0, 0.1, speed_rpm=1800.0),
    ]
    budget = charge_budget(given(*readings, machine=machine))
    assert budget is not None
    return budget


def _drawn(points: tuple[CurvePoint, ...], budget: ChargeBudget) -> Figure:
    figure = output_against_loads(OutputCurve(points), budget, CART, "output")
    assert figure is not None
    return figure


def test_an_output_that_was_never_read_is_not_drawn() -> None:
    assert output_against_loads(OutputCurve(()), _budget(), CART, "output") is None


def test_one_speed_says_that_the_rest_is_not_known() -> None:
    figure = _drawn(_ONE, _budget())
    assert "The output was read at one speed only" in figure.caption
    assert figure.description.startswith("The alternator gives 9.0 A at 3600 rpm. The loads draw ")


def test_two_speeds_say_that_the_shape_between_is_not_known() -> None:
    figure = _drawn(_TWO, _budget())
    assert "Between two speeds only" in figure.caption
    assert figure.description.startswith("The alternator gives 4.0 A at 1800 rpm, 9.0 A at 3600 rpm.")
    assert figure.caption.startswith("Above the dashed line the battery gains")
    assert ">idle<" in figure.drawing


def test_three_speeds_need_no_such_words() -> None:
    caption = _drawn(_THREE, _budget()).caption
    assert "only" not in caption
    assert "Dots: speeds at which the output was read" in caption


def test_without_loads_no_line_is_drawn_for_them() -> None:
    figure = _drawn(_TWO, _budget(loads=False))
    assert "dashed line" not in figure.caption
    assert "What the loads draw is not known." in figure.description
    assert "loads" not in figure.drawing.replace(figure.description, "").replace("and the loads", "")
    with_loads = _drawn(_TWO, _budget())
    assert "loads" in with_loads.drawing.replace(with_loads.description, "").replace("and the loads", "")


def test_where_it_breaks_even_is_marked_where_it_does() -> None:
    budget = _budget()
    assert budget.break_even is not None
    assert budget.break_even.speed_rpm is not None
    marked = _drawn(_TWO, budget)
    assert "breaks even at" in marked.drawing.replace(marked.description, "")
    strong = _gaining(20.0)
    assert strong.break_even is not None
    assert strong.break_even.speed_rpm is None
    drawing = _drawn((CurvePoint(3600.0, 26.0, 0.1),), strong)
    assert "breaks even at" not in drawing.drawing


def _gaining(gain_a: float) -> ChargeBudget:
    """A budget of one that gains at the lowest speed that was read."""
    budget = charge_budget(given(observed("current_work", gain_a, 0.1, speed_rpm=3600.0), machine=CART))
    assert budget is not None
    return budget
