"""Quantities read together: JCGM 100:2008 (GUM), H.2, with GTC as an independent peer.

It goes through ``daq.rated.together``, by which the project works out a line's doubt at a point and what
volts and speed that move together come to.
"""

from __future__ import annotations

import GTC
import numpy as np
import pytest

from daq.align.lag import LagEstimate
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.output import CountedRows, rated_output
from daq.rated.together import Means, Together, means_of
from tests.outside.published import H2_MILLIAMPERES, H2_RADIANS, H2_VOLTS, held_against


def impedance(v: float, i: float, phi: float) -> tuple[np.ndarray, np.ndarray]:
    """R, X and Z in ohm of V, I (ampere) and phi (radian), and their derivatives, by hand."""
    z, cos, sin = v / i, np.cos(phi), np.sin(phi)
    derivatives = np.array(
        [
            [cos / i, -z * cos / i, -z * sin],
            [sin / i, -z * sin / i, z * cos],
            [1.0 / i, -z / i, 0.0],
        ]
    )
    return np.array([z * cos, z * sin, z]), derivatives


def off_diagonal(correlation: np.ndarray) -> list[float]:
    """Of the first two, of first and third, of the last two."""
    return [float(correlation[0, 1]), float(correlation[0, 2]), float(correlation[1, 2])]


@pytest.fixture(scope="module")
def read_together() -> Means:
    return means_of(H2_VOLTS, H2_MILLIAMPERES / 1000.0, H2_RADIANS)


@held_against("G5")
def test_means_of_quantities_read_together(read_together: Means) -> None:
    value, known = read_together.value, read_together.known
    assert [round(value[0], 4), round(1e3 * value[1], 4), round(value[2], 5)] == [4.9990, 19.6610, 1.04446]
    assert [round(known.u[0], 4), round(1e3 * known.u[1], 4), round(known.u[2], 5)] == [
        0.0032,
        0.0095,
        0.00075,
    ]
    assert [round(r, 2) for r in off_diagonal(known.correlation)] == [-0.36, 0.86, -0.65]
    assert known.u * [1.0, 1e3, 1.0] == pytest.approx([0.00320936, 0.00947101, 0.00075206], abs=5e-9)
    assert off_diagonal(known.correlation) == pytest.approx([-0.355311, 0.857624, -0.645111], abs=5e-7)
    assert np.diag(known.correlation) == pytest.approx([1.0, 1.0, 1.0], abs=1e-14)
    assert read_together.sets == 5


@held_against("G6")
def test_results_of_correlated_inputs(read_together: Means) -> None:
    value, derivatives = impedance(*read_together.value)
    results = read_together.known.through(derivatives)
    assert np.round(value, 3).tolist() == [127.732, 219.847, 254.260]
    assert np.round(results.u, 3).tolist() == [0.071, 0.296, 0.236]
    assert results.u == pytest.approx([0.0710714, 0.2955817, 0.2363361], abs=5e-8)
    assert [round(r, 3) for r in off_diagonal(results.correlation)] == [-0.588, -0.485, 0.993]
    columns = [H2_VOLTS.tolist(), (H2_MILLIAMPERES / 1000.0).tolist(), H2_RADIANS.tolist()]
    v, i, phi = GTC.type_a.multi_estimate_real(columns)
    peers = [v / i * GTC.cos(phi), v / i * GTC.sin(phi), v / i]
    assert results.u == pytest.approx([peer.u for peer in peers], rel=1e-9)
    linked = [GTC.get_correlation(peers[a], peers[b]) for a, b in ((0, 1), (0, 2), (1, 2))]
    assert off_diagonal(results.correlation) == pytest.approx(linked, rel=1e-9)


@held_against("G6")
def test_what_unrelated_inputs_would_come_to_is_wrong(read_together: Means) -> None:
    """The trap beside the check: without the correlations R would be three times as doubtful."""
    _, derivatives = impedance(*read_together.value)
    assert read_together.known.unrelated.through(derivatives).u[0] > 2.5 * 0.0710714


@held_against("G7")
def test_each_set_worked_out_and_then_averaged() -> None:
    """Approach 2: what the project does with its rows, each scaled by the speed read with it."""
    sets = zip(H2_VOLTS, H2_MILLIAMPERES / 1000.0, H2_RADIANS, strict=True)
    results = means_of(*np.array([impedance(*each)[0] for each in sets]).T)
    assert np.round(results.value, 3).tolist() == [127.732, 219.847, 254.260]
    assert np.round(results.known.u, 3).tolist() == [0.071, 0.295, 0.236]
    assert results.value == pytest.approx([127.731630, 219.846895, 254.260050], abs=5e-7)
    assert results.known.u == pytest.approx([0.0712735, 0.2954891, 0.2362475], abs=5e-8)


@held_against("G7")
def test_rows_scaled_by_the_speed_read_with_them() -> None:
    """The same five sets, eight times over, as volts and rpm of a run rated at 20: its output is Z times 0.020 A.

    The mean is the published 254.260 to what a robust mean may differ from a plain one, and the rows' scatter
    that of the five sets, 0.2362475 times the root of 5, with 39 degrees of freedom for 8 times 4.
    """
    volts, rpm = np.tile(H2_VOLTS, 8), np.tile(H2_MILLIAMPERES, 8)
    none = InstrumentLimits(known=False, share=0.0, counts=0.0, digit=0.0)
    rows = CountedRows(np.arange(40.0), volts, rpm, np.zeros(40))
    output = rated_output(rows, 20.0, LagEstimate(0.0, 0.0, determined=True), none, none)
    assert output is not None
    assert output.rated_voltage_v / 0.020 == pytest.approx(254.260050, abs=0.1 * 0.236)
    assert output.scatter_v / 0.020 == pytest.approx(0.2362475 * (5.0 * 32.0 / 39.0) ** 0.5, rel=1e-6)


@held_against("G8")
def test_rounded_inputs_give_the_rounded_answer_only(read_together: Means) -> None:
    rounded = Together(
        np.array([0.0032, 0.0095e-3, 0.00075]),
        np.array([[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]]),
    )
    value, derivatives = impedance(4.9990, 19.6610e-3, 1.04446)
    results = rounded.through(derivatives)
    assert [round(value[0], 3), round(value[1], 2), round(value[2], 2)] == [127.732, 219.85, 254.26]
    assert [round(results.u[0], 3), round(results.u[1], 2), round(results.u[2], 2)] == [0.070, 0.30, 0.24]
    assert [round(r, 2) for r in off_diagonal(results.correlation)] == [-0.59, -0.49, 0.99]
    assert abs(results.u[0] - read_together.known.through(derivatives).u[0]) > 5e-4
