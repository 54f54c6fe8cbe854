"""Each finding in its sentence, and no sentence without its finding."""

from __future__ import annotations

from typing import Any

import pytest

from daq.align.lag import LagEstimate
from daq.align.marks import Mark
from daq.rated.line_fit import LineFit
from daq.rated.output import RatedOutput
from daq.rated.proportion import Proportion
from daq.verdict.findings import findings
from tests.daq.verdict.builders import evidence_of, output_of


def said(output: RatedOutput | None = None, **facts: Any) -> list[str]:
    return findings(output if output is not None else output_of(21.0), evidence_of(**facts))


def line(offset: float, u_offset: float) -> LineFit:
    return LineFit(offset, u_offset, 0.0058, 1e-5, -0.9, 0.02, 0.999, 60)


def shaped(**shape: Any) -> list[str]:
    return said(output_of(20.0, proportion=Proportion(**shape)))


def test_nothing_to_find_nothing_said() -> None:
    assert said() == []


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"has_volts": False}, "no AC volts readings"),
        ({"has_speed": False}, "no speed readings"),
        ({"rated_speed_rpm": None}, "--machine"),
    ],
)
def test_what_is_missing(facts: dict[str, Any], words: str) -> None:
    sentences = findings(None, evidence_of(**facts))
    assert words in sentences[0]


def test_too_few_rows_are_counted() -> None:
    sentences = findings(None, evidence_of(rows=10, rows_rejected=5))
    assert sentences[0].startswith("Only 5 rows count; at least 8")


def test_current_that_flowed() -> None:
    sentences = said(load_current_a=4.25)
    assert len(sentences) == 1
    assert sentences[0].startswith("A current of 4.2 A flowed")
    assert "Disconnect the load" in sentences[0]
    # The zero error of a clamp meter is no load.
    assert said(load_current_a=0.4) == []


def test_volts_that_do_not_follow() -> None:
    sentences = said(output_of(14.2, scaled=False))
    assert "were not scaled" in sentences[0]
    assert "load or the regulator-rectifier" in sentences[0]


@pytest.mark.parametrize(("times", "words"), [(1, "once, for 2.4 s"), (3, "3 times, for 2.4 s")])
def test_dropouts(times: int, words: str) -> None:
    sentences = said(dropouts=times, dropout_s=2.4)
    assert words in sentences[0]
    assert "loose lead" in sentences[0]


def test_far_from_rated_speed() -> None:
    sentences = said(output_of(21.0, near=False, nearest_share=0.28))
    assert "within 10 % of rated speed (nearest: 28 % away)" in sentences[0]
    assert "3600 rpm" in sentences[0]


def test_offset_of_the_line() -> None:
    low, high = shaped(line=line(-1.5, 0.1))[0], shaped(line=line(1.5, 0.1))[0]
    assert "misses zero by -1.50 V (± 0.20 V)" in low
    assert "a load still connected" in low
    assert "misses zero by +1.50 V" in high
    assert "meter's zero" in high
    # Within its uncertainty, or under 2 % of the output, it is none.
    assert shaped(line=line(1.5, 0.6)) == []
    assert shaped(line=line(0.3, 0.01)) == []


def test_sag_at_high_speed() -> None:
    sentence = shaped(sag=0.034, u_sag=0.004)[0]
    assert "3.4 % under proportion" in sentence
    assert "shorted turns" in sentence
    assert shaped(sag=0.034, u_sag=0.02) == []
    assert shaped(sag=0.014, u_sag=0.001) == []
    assert "1.6 % under proportion" in shaped(sag=0.016, u_sag=0.001)[0]
    assert shaped(sag=-0.05, u_sag=0.001) == []


def test_hysteresis_points_to_the_lag() -> None:
    sentence = shaped(hysteresis_v=-0.5, u_hysteresis_v=0.05)[0]
    assert "differ by -0.50 V: the lag may be wrong" in sentence
    assert shaped(hysteresis_v=0.5, u_hysteresis_v=0.2) == []
    assert shaped(hysteresis_v=0.15, u_hysteresis_v=0.01) == []


def test_lag_that_does_not_show() -> None:
    unseen = LagEstimate(0.0, 0.6, determined=False)
    assert "The speed moved too little to show the lag" in said(lag=unseen)[0]
    moving = output_of(21.0, proportion=Proportion(line=line(0.0, 0.1), elasticity=1.0))
    assert "too loosely to show the lag" in said(moving, lag=unseen)[0]
    assert said(lag=None) == []


def test_ambiguous_shift_names_its_rivals() -> None:
    rivals = LagEstimate(97.4, 0.02, determined=True, rivals_s=(89.4, 105.4))
    sentence = said(lag=rivals)[0]
    assert "+97.40 s and +89.40 s, +105.40 s fit about as well" in sentence
    assert "does not repeat itself" in sentence


def test_one_ramp_asks_for_a_sweep_up_and_down() -> None:
    moving = output_of(21.0, proportion=Proportion(line=line(0.0, 0.1), elasticity=1.0))
    ramp = LagEstimate(0.0, 0.6, determined=False, one_way=True)
    assert "one way only" in said(moving, lag=ramp)[0]
    assert "one sweep up and down" in said(moving, lag=ramp)[0]


def test_what_contradicts_itself_comes_first() -> None:
    assert said(in_doubt=("The tach reads double.",), lag=None)[0] == "The tach reads double."


def test_unknown_accuracies() -> None:
    sentences = said(meter_known=False, tach_known=False, meter_digit_v=0.01)
    assert "only its last digit, 0.01 V" in sentences[0]
    assert "tach's accuracy is unknown" in sentences[1]
    assert findings(None, evidence_of(meter_known=False, has_volts=False))[1:] == []


def test_a_last_digit_that_is_not_known_is_not_told_as_0_v() -> None:
    (sentence,) = said(meter_known=False, meter_digit_v=0.0)
    assert "0 V" not in sentence
    assert "its last digit is not known either" in sentence


def test_chosen_averaging_is_told() -> None:
    assert "taken as sampled" in said(tach_model="sampled", tach_model_chosen=True)[0]
    assert said(tach_model="sampled") == []


@pytest.mark.parametrize(
    ("count", "words"), [(1, "1 tach reading was false"), (5, "5 tach readings were false")]
)
def test_false_tach_readings(count: int, words: str) -> None:
    sentences = said(false_speed_readings=count)
    assert sentences[0].startswith(words)
    assert "check the mark" in sentences[0]


@pytest.mark.parametrize(("gaps", "words"), [(1, "one gap too long"), (2, "2 gaps too long")])
def test_gaps(gaps: int, words: str) -> None:
    assert words in said(speed_gaps=gaps)[0]


@pytest.mark.parametrize("mark", [m for m in Mark if m is not Mark.GOOD])
def test_every_kind_of_kept_out_row_has_words(mark: Mark) -> None:
    one, many = said(rejected={mark: 1})[0], said(rejected={mark: 12})[0]
    assert one.startswith("1 row was kept out: ")
    assert many.startswith("12 rows were kept out: ")
    assert one.endswith(".")
    assert len(one) > len("1 row was kept out: .") + 5


def test_notes_from_elsewhere_come_last() -> None:
    sentences = said(speed_gaps=1, notes=("The recording was cut off.",))
    assert sentences[-1] == "The recording was cut off."


def test_every_finding_is_a_whole_sentence() -> None:
    everything = said(
        output_of(
            20.0,
            near=False,
            nearest_share=0.2,
            proportion=Proportion(
                line=line(-1.5, 0.1), sag=0.04, u_sag=0.001, hysteresis_v=1.0, u_hysteresis_v=0.01
            ),
        ),
        load_current_a=3.0,
        dropouts=2,
        dropout_s=1.0,
        lag=LagEstimate(0.0, 0.6, determined=False),
        meter_known=False,
        tach_known=False,
        false_speed_readings=3,
        speed_gaps=2,
        rejected={Mark.STUCK: 4},
    )
    assert len(everything) == 12
    for sentence in everything:
        assert sentence[0].isupper() or sentence[0].isdigit()
        assert sentence.endswith(".")
