"""Published values for rated output, uncertainty, verdict and lag, each beside its source.

How to read ``status``:

``VERIFIED``      the published value was seen in public text or in a named package, and recomputed
``VERIFIED-2nd``  seen only where someone quotes the standard
``RECOMPUTED``    follows from a formula and was computed by us; its printing was not seen
``MEMORY``        from memory: check it against the source before quoting it as published

A test says what it is held against with :func:`held_against`; ``test_coverage_of_checks.py``
sees to it that no check of the list is forgotten.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

import numpy as np

Status = Literal["VERIFIED", "VERIFIED-2nd", "RECOMPUTED", "MEMORY"]


@dataclass(frozen=True)
class Origin:
    """Where a value comes from."""

    check: str
    source: str
    status: Status
    remark: str = ""


_ALL = (
    Origin("G1", "JCGM 100:2008 H.3, table H.6, H.3.3", "VERIFIED", "data: GTC's documentation"),
    Origin("G2", "JCGM 100:2008 H.3.4", "VERIFIED"),
    Origin("G3", "JCGM 100:2008 H.3.4, without its covariance", "RECOMPUTED", "negative check"),
    Origin("G4", "JCGM 100:2008 table H.6, columns 4 and 5", "RECOMPUTED"),
    Origin("G5", "JCGM 100:2008 H.2, tables H.2 and H.3", "VERIFIED", "data and rounded values"),
    Origin("G6", "JCGM 100:2008 H.2.4, table H.4", "VERIFIED", "values and u; correlations RECOMPUTED"),
    Origin("G7", "JCGM 100:2008 table H.5", "RECOMPUTED"),
    Origin("G8", "JCGM 100:2008 H.2 as printed, with its rounded inputs (noted by GTC)", "VERIFIED"),
    Origin("G9", "JCGM 100:2008 H.1, table H.1, H.1.6", "VERIFIED", "inputs and u_c; freedom RECOMPUTED"),
    Origin("G10", "JCGM 100:2008 H.1.6, table G.2", "RECOMPUTED"),
    Origin("G11", "JCGM 100:2008 table G.2", "RECOMPUTED", "the GUM's own 235.80 from memory"),
    Origin("G12", "JCGM 100:2008 F.2.2.1", "MEMORY", "clause"),
    Origin("G13", "JCGM 100:2008 4.3.7, 4.3.9, H.1", "MEMORY", "clauses"),
    Origin("G14", "JCGM 100:2008 5.1.6, eq. (12); inputs our own", "RECOMPUTED"),
    Origin("E1", "EA-4/02 M (2013 and 2022) S9", "VERIFIED-2nd", "half widths MEMORY"),
    Origin("E2", "EA-4/02 M S9, result", "MEMORY"),
    Origin("E3", "EA-4/02 M S9.8", "RECOMPUTED"),
    Origin("E4", "Monte Carlo of E1, 4 million draws", "RECOMPUTED"),
    Origin("E5", "EA-4/02 M S10", "VERIFIED-2nd"),
    Origin("E6", "EA-4/02 M S12.14", "VERIFIED-2nd"),
    Origin("J1", "JCGM 106:2012 7.4", "VERIFIED-2nd", "inputs; result RECOMPUTED"),
    Origin("J2", "JCGM 106:2012, diode's breakdown voltage, one limit", "MEMORY", "recomputed"),
    Origin("J3", "JCGM 106:2012 9.5.4, ball bearings", "VERIFIED", "producer's risk RECOMPUTED"),
    Origin("J4", "JCGM 106:2012 9.5.4", "VERIFIED", "producer's risk RECOMPUTED"),
    Origin("J5", "JCGM 106:2012 8.3, ISO 14253-1", "RECOMPUTED"),
    Origin("J6", "ILAC-G8:09/2019 table 1", "VERIFIED-2nd", "r = 0 and 1; the others MEMORY"),
    Origin("J7", "ILAC-G8:09/2019 4.2.1", "VERIFIED-2nd"),
    Origin("N1", "NIST/ITL StRD, Norris", "VERIFIED", "shipped with scipy"),
    Origin("N2", "NIST/ITL StRD, NoInt1", "VERIFIED"),
    Origin("N3", "NIST/ITL StRD, NoInt2", "VERIFIED", "sums of squares; the rest in exact fractions"),
    Origin("N4", "NIST/ITL StRD, note on lines through the origin", "RECOMPUTED", "negative check"),
    Origin("N5", "NIST/ITL StRD, NumAcc4", "MEMORY", "recomputed in exact fractions"),
    Origin("S1", "n = 120 f / P: NEMA MG 1, IEC 60034-1; open course table for 50 Hz", "VERIFIED"),
    Origin("S2", "n = 120 f / P: open course table for 60 Hz", "VERIFIED"),
    Origin("S3", "f = n P / 120", "RECOMPUTED"),
    Origin("S4", "NIST SP 811, table B.8", "RECOMPUTED", "table entry MEMORY"),
    Origin("S5", "poles come in pairs", "RECOMPUTED", "by definition"),
    Origin("V1", "Bird, Electrical Circuit Theory and Technology, d.c. machines", "VERIFIED"),
    Origin("V2", "Bird, the same problem with the flux changed", "VERIFIED"),
    Origin("V3", "Bird, flux needed for a given e.m.f.", "VERIFIED"),
    Origin("V4", "machines text, magnetisation curve read at another speed", "VERIFIED"),
    Origin("V5", "physics text, loaded generator", "VERIFIED", "inputs; answers RECOMPUTED"),
    Origin("V6", "electrical-machines tutorial, brush drop and reduced field", "VERIFIED", "inputs"),
    Origin("V7", "Bird, chapter 22, terminal volts under load", "VERIFIED"),
    Origin("V8", "IEEE Std 115, IEC 60034-4-1: open-circuit saturation", "MEMORY", "clauses unconfirmed"),
    Origin("F1", "standard texts: sine", "VERIFIED"),
    Origin("F2", "Helfrick & Cooper, Modern Electronic Instrumentation, example 6-1", "VERIFIED"),
    Origin("F3", "standard texts: triangle", "RECOMPUTED"),
    Origin("F4", "Helfrick & Cooper, example 6-2", "VERIFIED"),
    Origin("F5", "standard texts: full-wave rectified sine", "RECOMPUTED"),
    Origin("F6", "definition: full-wave rectified sine behind a capacitor", "RECOMPUTED"),
    Origin("F7", "definition: half-wave rectified sine", "RECOMPUTED"),
    Origin("L1", "Kay, Estimation Theory (1993), range estimation, example 3.13", "VERIFIED-2nd"),
    Origin("L2", "Quazi (1981); Knapp & Carter (1976)", "MEMORY"),
    Origin("L3", "L1 for one sine", "RECOMPUTED"),
    Origin("L4", "our own run: a matched-phase correlation reaches 1.015 and 1.013", "RECOMPUTED"),
    Origin("L5", "shift theorem of the Fourier transform", "RECOMPUTED"),
    Origin("L6", "L1 with no slope at all", "RECOMPUTED"),
)

ORIGINS = {origin.check: origin for origin in _ALL}

LEFT_OUT = {
    "E2": "a result line of the meter's own calibration: the project calibrates no meter",
    "G5": "means and correlations of three quantities read together are not formed in the project; "
    "the values serve as inputs of G6 and are recomputed there",
    "G7": "approach 2 (a quotient for each set, then the mean) is how rows are scaled, but the project's "
    "mean is a robust one over at least eight rows; five sets with a plain mean are not in it",
}
"""Checks of the list without a test of their own, each with its reason."""

Test = TypeVar("Test", bound=Callable[..., Any])


def held_against(*checks: str) -> Callable[[Test], Test]:
    """Mark a test with the checks it is held against, by their names in :data:`ORIGINS`."""
    origins = tuple(ORIGINS[check] for check in checks)

    def mark(test: Test) -> Test:
        test.__dict__["origins"] = origins
        return test

    return mark


# G1: JCGM 100:2008, table H.6: thermometer readings t and corrections b, VERIFIED.
H3_TEMPERATURE = np.array(
    [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
)
H3_CORRECTION = np.array(
    [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
)
H3_REFERENCE = 20.0
# G4: columns 4 and 5 of the same table, RECOMPUTED.
H3_FITTED = np.array(
    [-0.1679, -0.1668, -0.1657, -0.1646, -0.1635, -0.1625, -0.1614, -0.1603, -0.1592, -0.1581, -0.1570]
)
H3_RESIDUAL = np.array(
    [-0.0031, -0.0022, -0.0003, 0.0056, -0.0005, -0.0025, 0.0054, 0.0033, 0.0002, -0.0029, -0.0030]
)

# G5: JCGM 100:2008, table H.2: volts, milliamperes, radians, five sets read together, VERIFIED.
H2_VOLTS = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
H2_MILLIAMPERES = np.array([19.663, 19.639, 19.640, 19.685, 19.678])

# G11: JCGM 100:2008, table G.2 (RECOMPUTED): factors for these probabilities in percent.
G2_PROBABILITIES = (68.27, 90.0, 95.0, 95.45, 99.0, 99.73)
G2_FACTORS = {
    1.0: (1.84, 6.31, 12.71, 13.97, 63.66, 235.78),
    2.0: (1.32, 2.92, 4.30, 4.53, 9.92, 19.21),
    3.0: (1.20, 2.35, 3.18, 3.31, 5.84, 9.22),
    4.0: (1.14, 2.13, 2.78, 2.87, 4.60, 6.62),
    5.0: (1.11, 2.02, 2.57, 2.65, 4.03, 5.51),
    9.0: (1.06, 1.83, 2.26, 2.32, 3.25, 4.09),
    10.0: (1.05, 1.81, 2.23, 2.28, 3.17, 3.96),
    20.0: (1.03, 1.72, 2.09, 2.13, 2.85, 3.42),
    50.0: (1.01, 1.68, 2.01, 2.05, 2.68, 3.16),
    float("inf"): (1.000, 1.645, 1.960, 2.000, 2.576, 3.000),
}

# N1: NIST StRD Norris, pairs as printed: y, then x (VERIFIED).
NORRIS_Y_X = np.array(
    [
        (0.1, 0.2), (338.8, 337.4), (118.1, 118.2), (888.0, 884.6), (9.2, 10.1), (228.1, 226.5),
        (668.5, 666.3), (998.5, 996.3), (449.1, 448.6), (778.9, 777.0), (559.2, 558.2), (0.3, 0.4),
        (0.1, 0.6), (778.1, 775.5), (668.8, 666.9), (339.3, 338.0), (448.9, 447.5), (10.8, 11.6),
        (557.7, 556.0), (228.3, 228.1), (998.0, 995.8), (888.8, 887.6), (119.6, 120.2), (0.3, 0.3),
        (0.6, 0.3), (557.6, 556.8), (339.3, 339.1), (888.0, 887.2), (998.5, 999.0), (778.9, 779.0),
        (10.2, 11.1), (117.6, 118.3), (228.9, 229.2), (668.4, 669.1), (449.2, 448.9), (0.2, 0.5),
    ]
)  # fmt: skip

# S1, S2: rpm for 2, 4, ... 24 poles at 50 and 60 Hz (VERIFIED up to 16 and 18 poles, the rest by the formula).
RPM_50_HZ = (
    3000.0, 1500.0, 1000.0, 750.0, 600.0, 500.0, 428.5714, 375.0, 333.3333, 300.0, 272.7273, 250.0,
)  # fmt: skip
RPM_60_HZ = (
    3600.0, 1800.0, 1200.0, 900.0, 720.0, 600.0, 514.2857, 450.0, 400.0, 360.0, 327.2727, 300.0,
)  # fmt: skip
