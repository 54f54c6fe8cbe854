"""Sentences that repeat are told once, with their number; nothing goes without being counted."""

from __future__ import annotations

import pytest

from daq.job.repeats import grouped


def test_the_same_again_only_counts() -> None:
    assert grouped(["A gap.", "Other.", "A gap.", "A gap."]) == ["A gap. (3 times)", "Other."]


def test_of_one_kind_two_are_told_and_the_rest_counted() -> None:
    notes = [f"0{n}-stator.jsonl has a gap of {n}.5 s." for n in range(1, 7)]
    assert grouped([*notes, "Other."]) == [
        "01-stator.jsonl has a gap of 1.5 s.",
        "02-stator.jsonl has a gap of 2.5 s. (and 4 more of this kind)",
        "Other.",
    ]


def test_three_of_a_kind_are_as_short_as_two_and_a_count() -> None:
    notes = [f"Speed {n} rpm." for n in (100, 200, 300)]
    assert grouped(notes) == notes


def test_repeats_within_a_kind_are_counted_with_it() -> None:
    assert grouped([f"Gap of {n} s." for n in (1, 1, 2, 3, 4, 4)]) == [
        "Gap of 1 s. (2 times)",
        "Gap of 2 s. (and 3 more of this kind)",
    ]


def test_what_differs_in_words_is_no_repeat() -> None:
    assert grouped(["The meter was off.", "The tach was off."]) == ["The meter was off.", "The tach was off."]


def test_a_file_in_a_folder_is_one_name() -> None:
    notes = [f"runs/{name}.jsonl has a gap." for name in ("a", "b", "c2", "d.jsonl.old")]
    assert grouped(notes) == [notes[0], f"{notes[1]} (and 2 more of this kind)"]


@pytest.mark.parametrize("piece", ["a", ".jsonl", "a.json", "1,", "-", "1.jsonl "])
def test_a_sentence_with_a_very_long_word_is_taken_in_passing(piece: str) -> None:
    """Looked through again from each of its letters, it would outlast the suite's patience with one test."""
    long = piece * (500_000 // len(piece))
    assert grouped([long, long + "!"]) == [long, long + "!"]
