"""The hurt files hold what careless searches are slow with: a short piece repeated very many times."""

from __future__ import annotations

import random
import re

import pytest

from tests.faults.mutations import hurt
from tests.faults.strangers import KINDS, seeds

OPENS_NO_TERMINAL = True

_REPEATED = re.compile(rb"(.{1,4}?)\1{2000,}+", re.DOTALL)


@pytest.mark.parametrize("kind", ["job", "csv", "machine"])
def test_some_files_hold_a_piece_ten_thousand_letters_long(kind: str) -> None:
    """Of many pieces, and far longer than the longest nasty value."""
    assert kind in KINDS
    lengths: dict[bytes, int] = {}
    for number in range(200):
        rng = random.Random(number)
        data = hurt(rng.choice(seeds(kind, sound=True)), rng, 1)
        found = _REPEATED.search(data)
        if found is not None and len(found[0]) >= 9_990:
            lengths[found[1]] = max(lengths.get(found[1], 0), len(found[0]))
    assert len(lengths) > 8
    assert max(lengths.values()) > 50_000
