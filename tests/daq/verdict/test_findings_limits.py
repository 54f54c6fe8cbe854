"""From where on a finding is told: each limit a little under and a little over."""

from __future__ import annotations

from typing import Any

import pytest

from daq.rated.line_fit import LineFit
from daq.rated.output import RatedOutput
from daq.rated.proportion import Proportion
from daq.verdict.evidence import Evidence
from daq.verdict.findings import findings
from tests.daq.verdict.builders import budget_of, evidence_of, output_of


def line(offset: float, u_offset: float) -> LineFit:
    return LineFit(offset, u_offset, 0.0058, 1e-5, -0.9, 0.02, 0.999, 60)


def told(output: RatedOutput, **facts: Any) -> bool:
    return findings(output, evidence_of(**facts)) != []


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("offset", "u", "is_told"),
    [(0.39, 0.01, False), (0.41, 0.01, True), (0.59, 0.2, False), (0.61, 0.2, True)],
)
def test_an_offset_of_two_percent_and_of_three_uncertainties(
    offset: float, u: float, is_told: bool, sign: float
) -> None:
    assert told(output_of(20.0, proportion=Proportion(line=line(sign * offset, u)))) == is_told


@pytest.mark.parametrize(
    ("sag", "u", "is_told"),
    [(0.0149, 0.001, False), (0.0151, 0.001, True), (0.029, 0.01, False), (0.031, 0.01, True)],
)
def test_a_sag_of_one_and_a_half_percent_and_of_three_uncertainties(
    sag: float, u: float, is_told: bool
) -> None:
    assert told(output_of(20.0, proportion=Proportion(sag=sag, u_sag=u))) == is_told


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize(
    ("volts", "u", "is_told"),
    [(0.19, 0.01, False), (0.21, 0.01, True), (0.39, 0.1, False), (0.41, 0.1, True)],
)
def test_a_hysteresis_of_one_percent_and_of_four_uncertainties(
    volts: float, u: float, is_told: bool, sign: float
) -> None:
    shape = Proportion(hysteresis_v=sign * volts, u_hysteresis_v=u)
    assert told(output_of(20.0, proportion=shape)) == is_told


@pytest.mark.parametrize(("amperes", "loaded"), [(None, False), (0.0, False), (0.5, False), (0.51, True)])
def test_half_an_ampere_is_a_load(amperes: float | None, loaded: bool) -> None:
    evidence: Evidence = evidence_of(load_current_a=amperes)
    assert evidence.loaded == loaded


def far(unseen_v: float, near: bool, proportion: Proportion | None = None) -> list[str]:
    """An expanded uncertainty of 1.96 V."""
    output = output_of(
        20.0,
        budget=budget_of(1.0),
        near=near,
        nearest_share=0.07 if near else 0.24,
        unseen_v=unseen_v,
        proportion=proportion or Proportion(),
    )
    return findings(output, evidence_of())


def test_what_a_hold_beside_rated_speed_can_not_show_is_told_from_three_tenths_of_the_interval() -> None:
    assert far(0.58, near=True) == []
    (said,) = far(0.60, near=True)
    assert said == (
        "All readings lie off rated speed (nearest: 7 % away), and ±0.6 V for an offset or a bend of the line that "
        "this run can't show is in the uncertainty. Run nearer to 3600 rpm."
    )


def test_a_hold_far_from_rated_speed_is_always_told_and_its_cost_where_it_matters() -> None:
    assert far(0.58, near=False) == [
        "No reading lies within 10 % of rated speed (nearest: 24 % away): the rated output rests on scaling alone. "
        "Run nearer to 3600 rpm."
    ]
    assert far(0.60, near=False, proportion=Proportion(line=line(0.0, 0.1))) == [
        "No reading lies within 10 % of rated speed (nearest: 24 % away): the rated output rests on scaling alone, "
        "and ±0.6 V for a bend of the line that this run can't show is in the uncertainty. Run nearer to 3600 rpm, "
        "or sweep up and down."
    ]


def test_an_assumed_way_of_averaging_is_told_with_its_cost() -> None:
    (said,) = findings(
        output_of(21.0),
        evidence_of(tach_model="contiguous", tach_model_assumed=True, averaging_limit_v=0.0321),
    )
    assert "contiguous was assumed, and ±0.032 V for it is in the uncertainty" in said
