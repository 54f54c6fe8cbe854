"""Which alternator is it: what is seen and measured decides, colours do not."""

from __future__ import annotations

import itertools

import pytest

from daq.cards.machine_parts import AlternatorClass
from daq.cards.which_alternator import COLOURS, LOOKS, which_alternator

CASES = [
    ({"leads": "1", "diode": "no", "regulator": "no", "to_ground": "ac"}, AlternatorClass.AC_ONLY),
    ({"leads": "1", "diode": "yes", "regulator": "no", "to_ground": "dc"}, AlternatorClass.DC_ONLY),
    ({"leads": "2", "diode": "no", "regulator": "yes", "to_ground": "none"}, AlternatorClass.REGULATED),
    ({"leads": "2", "diode": "yes", "regulator": "no", "to_ground": "both"}, AlternatorClass.SPLIT),
]


@pytest.mark.parametrize(("answers", "expected"), CASES)
def test_clear_cases(answers: dict[str, str], expected: AlternatorClass) -> None:
    which = which_alternator(answers)
    assert which.decided is expected
    assert which.next_look is None
    assert COLOURS in which.reasons


@pytest.mark.parametrize(("truth", "expected"), CASES)
def test_following_the_next_look_always_ends_at_the_truth(
    truth: dict[str, str], expected: AlternatorClass
) -> None:
    answers: dict[str, str] = {}
    for _ in LOOKS:
        look = which_alternator(answers).next_look
        if look is None:
            break
        answers[look.key] = truth[look.key]
    assert which_alternator(answers).decided is expected


def test_nothing_known_asks_for_the_easiest_look() -> None:
    which = which_alternator({})
    assert set(which.classes) == set(AlternatorClass)
    assert which.next_look is LOOKS[0]


def test_answers_that_go_with_nothing_say_so() -> None:
    which = which_alternator({"leads": "1", "regulator": "yes"})
    assert which.classes == ()
    assert any("No class goes with all of this" in reason for reason in which.reasons)
    assert any("a regulator-rectifier does not go with it" in reason for reason in which.reasons)


def test_no_answers_ever_leave_a_class_that_contradicts_one() -> None:
    keys = [look.key for look in LOOKS]
    for values in itertools.product(*(look.answers for look in LOOKS)):
        which = which_alternator(dict(zip(keys, values, strict=True)))
        assert which.next_look is None
        if which.decided is AlternatorClass.DC_ONLY:
            assert values[1] == "yes"


def test_unknown_answers_are_refused() -> None:
    with pytest.raises(ValueError, match="leads = 'many'"):
        which_alternator({"leads": "many"})


def test_what_can_not_be_answered_is_not_asked_again() -> None:
    which = which_alternator({}, {"leads"})
    assert which.next_look is LOOKS[1]
    assert which_alternator({}, {look.key for look in LOOKS}).next_look is None
