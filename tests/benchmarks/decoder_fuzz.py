"""100,000 random and mutated frames through each decoder that is fed bytes, drawn by hypothesis.

Run as ``python -m tests.benchmarks.decoder_fuzz [FRAMES]``. Wanted (issue 4): no exception but a decoder's own,
which there is none of, and no growth. The suite runs the same checks on some hundred frames; the packets of
Bluetooth have a run of their own in tests/drivers/gatt.
"""

from __future__ import annotations

import random
import sys
import time

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.drivers.decoder_kit import Sample, check_one_stream, mutated_stream
from tests.drivers.decoder_samples import SAMPLES

_FRAMES_A_STREAM = 500


def fuzz(sample: Sample, frames: int) -> int:
    """Hold a decoder against the contract over that many frames; how many readings came."""
    came = 0

    @settings(max_examples=-(-frames // _FRAMES_A_STREAM), deadline=None, database=None,
              suppress_health_check=list(HealthCheck))  # fmt: skip
    @given(st.integers(0, 2**64), st.lists(st.binary(min_size=1, max_size=64), max_size=20))
    def run(seed: int, junk: list[bytes]) -> None:
        nonlocal came
        rng = random.Random(seed)
        chunks = [*junk, *mutated_stream(sample, rng, _FRAMES_A_STREAM - len(junk))]
        came += check_one_stream(sample, iter(chunks))

    run()
    return came


def main() -> None:
    """Run all of them and print a line each."""
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 100_000
    for sample in SAMPLES:
        started = time.perf_counter()
        readings = fuzz(sample, frames)
        print(f"{sample.name:15} {frames} frames, {readings} readings, {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main()
