"""Rows of text in which no number loses its unit."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tui.view.wrapping import shorten, wrap

SENTENCE = "The rated output rose by 11.06 V ± 0.18 V at 3600 rpm within 12 s, over 99.9 % of the limit."


@pytest.mark.parametrize("width", range(20, 100, 3))
def test_a_number_and_its_unit_stay_together(width: int) -> None:
    rows = wrap(SENTENCE, width)
    assert all(len(row) <= width for row in rows)
    assert " ".join(rows) == SENTENCE
    assert not any(re.search(r"\d$", row) for row in rows)
    assert not any(re.match(r"(V|rpm|s,|%|±)\b|±|%", row) for row in rows)


@given(st.text(alphabet="ab 1Vrpm.±%", max_size=60), st.integers(1, 30))
def test_nothing_is_lost_and_nothing_too_wide(text: str, width: int) -> None:
    rows = wrap(text, width)
    assert all(len(row) <= width for row in rows)
    assert "".join("".join(rows).split()) == "".join(text.split())


@pytest.mark.parametrize(
    ("width", "short"),
    [
        (100, "Held 3600 rpm for 23 s: 24.6 V ± 0.3 V."),
        (36, "Held 3600 rpm for 23 s: ..."),
        (20, "Held 3600 rpm ..."),
        (16, "Held ..."),
    ],
)
def test_a_sentence_that_is_too_long_says_so_and_keeps_its_numbers_whole(width: int, short: str) -> None:
    shortened = shorten("Held 3600 rpm for 23 s: 24.6 V ± 0.3 V.", width)
    assert len(shortened) <= width
    assert shortened == short
