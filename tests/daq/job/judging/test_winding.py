"""The winding's judges: lead zero, copper's temperature, openings, ground."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from daq.cards.machine_parts import AlternatorClass
from daq.job.judging.verdicts import StepJudgement
from daq.job.judging.winding import judge_resistance, judge_to_ground, judge_wiggle, winding_at_20_degrees
from daq.job.physics.copper import NO_INSULATION_TEST
from daq.job.streams.opens import Opening
from tests.daq.job.builders import CART, given, observed


def ohms(value: float | None, lead: float | None = 0.02, temperature: float | None = 20.0) -> StepJudgement:
    readings = [observed("winding_resistance", value, 0.001)]
    if lead is not None:
        readings.append(observed("lead_resistance", lead, 0.001))
    if temperature is not None:
        readings.append(observed("winding_temperature", temperature, 0.1))
    return judge_resistance(given(*readings))


def strengths(judgement: StepJudgement) -> dict[str, float]:
    return {finding.name: finding.strength for finding in judgement.findings}


@pytest.mark.parametrize(
    ("value", "verdict", "found"),
    [
        (0.27, "pass", "winding_in_range"),
        (0.22, "fail", "winding_low"),
        (0.50, "fail", "winding_high"),
        (0.255, "too_close", "winding_whole"),
        (None, "fail", "winding_open"),
        (250_000.0, "fail", "winding_open"),
    ],
)
def test_against_the_cards_range(value: float | None, verdict: str, found: str) -> None:
    judgement = ohms(value)
    assert judgement.verdict == verdict
    assert strengths(judgement)[found] > 0.9


def test_a_hot_winding_is_brought_back_to_20_degrees() -> None:
    """0.25 ohm at 20 °C read at 100 °C: 1.314342 times as much (check R5)."""
    hot = 0.25 * 1.314342 + 0.02
    assert ohms(hot, temperature=20.0).verdict == "fail"
    assert ohms(hot, temperature=100.0).verdict == "pass"
    found = winding_at_20_degrees(
        given(
            observed("winding_resistance", hot, 0.0),
            observed("lead_resistance", 0.02, 0.0),
            observed("winding_temperature", 100.0, 0.1),
        )
    )
    assert found is not None
    assert found[0].value == pytest.approx(0.25, abs=1e-6)


def test_an_unknown_temperature_widens_the_doubt_and_is_said() -> None:
    known, unknown = ohms(0.27), ohms(0.27, temperature=None)
    assert known.verdict == "pass"
    assert "temperature was not read" in unknown.lines[0].sentence
    assert strengths(unknown)["winding_in_range"] < strengths(known)["winding_in_range"]


def test_without_a_lead_zero_little_can_be_said() -> None:
    judgement = ohms(0.5, lead=None)
    assert judgement.verdict == "too_close"
    assert "leads were not read" in judgement.lines[0].sentence


def test_the_meters_fixed_error_falls_out_with_the_lead_zero() -> None:
    def u(with_lead: bool) -> float:
        readings = [observed("winding_resistance", 0.27, 0.001, counts=0.05)]
        if with_lead:
            readings.append(observed("lead_resistance", 0.02, 0.001, counts=0.05))
        found = winding_at_20_degrees(given(*readings, observed("winding_temperature", 20.0, 0.1)))
        assert found is not None
        return found[0].u

    assert u(with_lead=True) < 0.005
    assert u(with_lead=False) > 0.05


def test_without_a_range_there_is_no_limit() -> None:
    machine = replace(CART, winding_resistance_ohm=None)
    judgement = judge_resistance(given(machine=machine, winding_resistance=0.3, lead_resistance=0.02))
    assert judgement.verdict == "no_limit"
    assert "no range to judge it by" in judgement.lines[0].sentence


def wiggled(*openings: Opening, span_s: float = 60.0) -> StepJudgement:
    return judge_wiggle(given(observed("wiggle_watch", 0.27, openings=openings, span_s=span_s)))


def test_one_opening_in_a_minute_is_a_finding() -> None:
    judgement = wiggled(Opening(20.0, 0.3, True))
    assert judgement.verdict == "fail"
    assert judgement.lines[0].reading == "1 opening in 60 s, for 0.3 s"
    assert strengths(judgement) == {"wiggle_opens": 1.0}


def test_a_quiet_minute_passes_and_a_quiet_half_minute_does_not() -> None:
    assert wiggled().verdict == "pass"
    short = wiggled(span_s=30.0)
    assert short.verdict == "too_close"
    assert "only 30 s were watched" in short.lines[0].sentence
    assert strengths(short)["wiggle_steady"] == pytest.approx(30 / 54)


def test_openings_counted_by_a_person() -> None:
    assert judge_wiggle(given(wiggle_count=0.0)).verdict == "pass"
    assert judge_wiggle(given(wiggle_count=2.0)).lines[0].reading == "2 openings in 60 s"


def test_open_all_the_time_is_not_a_loose_joint() -> None:
    judgement = wiggled(Opening(0.0, 60.0, True))
    assert judgement.verdict == "not_judged"
    assert set(strengths(judgement)) == {"winding_open"}


@pytest.mark.parametrize(
    ("value", "verdict", "found", "strength"),
    [
        (None, "pass", "insulated", 1.0),
        (5e6, "pass", "insulated", 1.0),
        (0.3, "fail", "grounded", 1.0),
        (40_000.0, "too_close", "grounded", 0.4),
    ],
)
def test_winding_to_ground(value: float | None, verdict: str, found: str, strength: float) -> None:
    judgement = judge_to_ground(given(ground_resistance=value))
    assert judgement.verdict == verdict
    assert strengths(judgement) == {found: strength}


def test_an_ohmmeter_is_said_to_be_no_insulation_test() -> None:
    for value in (None, 0.3):
        assert NO_INSULATION_TEST in judge_to_ground(given(ground_resistance=value)).lines[0].sentence


def test_a_winding_that_may_be_grounded_on_purpose_is_not_condemned() -> None:
    machine = replace(CART, alternator=AlternatorClass.AC_ONLY)
    judgement = judge_to_ground(given(machine=machine, ground_resistance=0.3))
    assert judgement.verdict == "no_limit"
    assert judgement.findings == ()


def test_the_doubt_of_the_resistance_by_hand() -> None:
    """Scatter and last digit of both readings, and a kelvin of temperature: 1/254.5 of the value."""
    found = winding_at_20_degrees(
        given(
            observed("winding_resistance", 0.27, 0.002, digit=0.01),
            observed("lead_resistance", 0.02, 0.001, digit=0.01),
            observed("winding_temperature", 20.0, 0.1),
        )
    )
    assert found is not None
    expected = (0.002**2 + 0.001**2 + 2 * 0.01**2 / 12 + (0.25 / 254.5) ** 2) ** 0.5
    assert found[0].u == pytest.approx(expected)


def test_leads_that_were_not_read_by_hand() -> None:
    found = winding_at_20_degrees(
        given(
            observed("winding_resistance", 0.5, 0.0, counts=0.03), observed("winding_temperature", 20.0, 0.1)
        )
    )
    assert found is not None
    assert found[0].value == pytest.approx(0.25)
    assert found[0].u == pytest.approx((0.03**2 / 3 + 0.25**2 / 3 + (0.25 / 254.5) ** 2) ** 0.5)
