"""Each decoder, cut at every byte, among junk, and fed hurt frames."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.drivers.decoder_kit import (
    Sample,
    check_cut_everywhere,
    check_junk,
    check_one_stream,
    check_resync,
    held_bytes,
    mutated_stream,
)
from tests.drivers.decoder_samples import SAMPLES

every_decoder = pytest.mark.parametrize("sample", SAMPLES, ids=str)


@every_decoder
def test_cut_at_every_byte(sample: Sample) -> None:
    check_cut_everywhere(sample)


@every_decoder
def test_junk_before_between_and_after(sample: Sample) -> None:
    check_junk(sample)


@pytest.mark.parametrize("sample", [s for s in SAMPLES if len(s.frames) > 1], ids=str)
def test_resync_passes_the_rest_of_a_frame_over(sample: Sample) -> None:
    check_resync(sample)


@every_decoder
@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**64))
def test_mutated_frames(sample: Sample, seed: int) -> None:
    check_one_stream(sample, mutated_stream(sample, random.Random(seed), 20))


@every_decoder
@settings(max_examples=50, deadline=None)
@given(st.lists(st.binary(min_size=1, max_size=300), max_size=20))
def test_random_bytes(sample: Sample, chunks: list[bytes]) -> None:
    check_one_stream(sample, iter(chunks))


@every_decoder
@pytest.mark.parametrize("filler", [b"0", b"\x11", b"\xaa", b"$", b"\xff"])
def test_endless_junk_is_not_kept(sample: Sample, filler: bytes) -> None:
    decoder = sample.make()
    bare = held_bytes(decoder)
    for _ in range(50):
        decoder.feed(filler * 4096, 1)
    assert held_bytes(decoder) - bare <= 2 * decoder.max_frame + 64


def test_the_kit_sees_a_decoder_that_keeps_everything() -> None:
    class Hoarder:
        max_frame = 8

        def __init__(self) -> None:
            self._all: list[bytes] = []

        def feed(self, data: bytes, t_ns: int) -> list[object]:
            self._all.append(data)
            return []

        def flush(self) -> list[object]:
            return []

        def resync(self) -> None:
            self._all.clear()

    hoarder = Sample("hoarder", Hoarder, [b"12345678"], [[]])  # type: ignore[arg-type] # it gives no readings
    with pytest.raises(AssertionError, match="must not grow"):
        check_one_stream(hoarder, (bytes([n]) * 1000 for n in range(10)))
