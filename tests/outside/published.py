"""Published values and open standards that the tests are held against, each beside its source.

How to read ``status``:

``VERIFIED``      the published value was seen in public text or in a named package, and recomputed
``VERIFIED-2nd``  seen only where someone quotes the standard
``RECOMPUTED``    follows from a formula and was computed by us; its printing was not seen
``MEMORY``        from memory: check it against the source before quoting it as published
``COMMON``        common practice of the trade, no source
``UNMARKED``      the list gives no mark: true by definition, or data whose counts a test recomputes

The remark says where a part of a check stands otherwise than its status. A test says what it is held
against with :func:`held_against`; for tests that stand beside the code they test, :data:`HELD_ELSEWHERE`
says it. ``test_coverage_of_checks.py`` sees to it that no check of the list is forgotten.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

import numpy as np

Status = Literal["VERIFIED", "VERIFIED-2nd", "RECOMPUTED", "MEMORY", "COMMON", "UNMARKED"]


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
    Origin("S5", "poles come in pairs", "UNMARKED", "by definition"),
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
    Origin("R1", "IEC 60034-1, resistance method; inputs our own", "VERIFIED-2nd", "numbers RECOMPUTED"),
    Origin("R2", "IEEE 112 constant; NBS Handbook 100 coefficient", "VERIFIED-2nd"),
    Origin("R3", "IEEE 112 constant; NBS Handbook 100 coefficient", "VERIFIED-2nd"),
    Origin("R4", "resistance formula, 20 to 75 °C", "RECOMPUTED"),
    Origin("R5", "resistance formula, 20 to 25, 50, 100 and 130 °C", "RECOMPUTED"),
    Origin("R6", "NBS Handbook 100 (1966); IEC 60028", "VERIFIED-2nd", "AWG 12 to 24; AWG 10 MEMORY"),
    Origin("R7", "R6 in ohm per kilometre", "RECOMPUTED"),
    Origin("B1", "battery-trade table, 12 V flooded at 80 °F", "VERIFIED"),
    Origin("B2", "the same table, correction for temperature", "VERIFIED"),
    Origin("B3", "another trade page, end-of-charge volts", "VERIFIED"),
    Origin("B4", "four trade tables that disagree", "VERIFIED"),
    Origin("B5", "open lecture page, Peukert's plain form", "VERIFIED"),
    Origin("B6", "open tutorial, Peukert's plain form", "VERIFIED"),
    Origin("B7", "Peukert's form with rated hours", "RECOMPUTED"),
    Origin("C1", "IEEE 43-2013, table 3", "MEMORY", "edition VERIFIED"),
    Origin("C2", "IEEE 43-2013, table 1", "MEMORY"),
    Origin("C3", "IEC 60825-1, class 2 laser", "VERIFIED-2nd"),
    Origin("C4", "IEC 61010-1:2010, 6.3", "MEMORY"),
    Origin("W1", "SCPI-99 vol. 1, 7.2.1.4 and 7.2.1.5", "VERIFIED-2nd", "clause MEMORY"),
    Origin("W2", "IEEE 488.2, 8.7.2 to 8.7.4", "MEMORY"),
    Origin("W3", "NMEA 0183 checksum, widely published example", "VERIFIED"),
    Origin("W4", "NMEA 0183 checksum, another sentence", "RECOMPUTED"),
    Origin("W5", "XDR of two tachometers in a ship's-recorder manual", "VERIFIED", "its checksum is wrong"),
    Origin("W6", "NMEA 0183, and its XDR update sheet of 2019", "VERIFIED"),
    Origin("W7", "NMEA 0183, RPM", "VERIFIED"),
    Origin("W8", "npm signalk-server 2.23.0, samples/plaka.log", "VERIFIED"),
    Origin("W9", "CRC catalogue, CRC-16/MODBUS", "VERIFIED"),
    Origin("W10", "MODBUS over Serial Line V1.02, CRC appendix", "VERIFIED-2nd"),
    Origin("W11", "MODBUS specification's example, holding registers", "VERIFIED"),
    Origin("W12", "MODBUS specification's examples, other requests", "VERIFIED"),
    Origin("W13", "MODBUS over Serial Line, 2.5.1.1", "RECOMPUTED", "clause MEMORY"),
    Origin("W14", "Bluetooth SIG GSS, CSC Measurement", "VERIFIED"),
    Origin("W15", "W14, wrap of its clock", "RECOMPUTED"),
    Origin("W16", "Bluetooth SIG GSS, CSC Measurement: wraps and gaps", "UNMARKED", "follows from W14"),
    Origin("W17", "Bluetooth SIG Assigned Numbers, units", "VERIFIED"),
    Origin("W18", "Bluetooth SIG GSS, Voltage", "VERIFIED"),
    Origin("W19", "Bluetooth SIG GSS, Electric Current", "VERIFIED"),
    Origin("W20", "Bluetooth SIG GSS, Rotational Speed", "VERIFIED", "bytes RECOMPUTED"),
    Origin("W21", "Bluetooth SIG, Characteristic Presentation Format", "VERIFIED"),
    Origin("W22", "IEEE 11073-20601, SFLOAT", "MEMORY", "four agree with a package, the fifth does not"),
    Origin("L1", "Kay, Estimation Theory (1993), range estimation, example 3.13", "VERIFIED-2nd"),
    Origin("L2", "Quazi (1981); Knapp & Carter (1976)", "MEMORY"),
    Origin("L3", "L1 for one sine", "RECOMPUTED"),
    Origin("L4", "our own run: a matched-phase correlation reaches 1.015 and 1.013", "RECOMPUTED"),
    Origin("L5", "shift theorem of the Fourier transform", "UNMARKED", "by definition"),
    Origin("L6", "L1 with no slope at all", "UNMARKED", "follows from L1"),
    Origin("T1", "RFC 4180, 2.6 and 2.7", "VERIFIED"),
    Origin("T2", "RFC 4180, 2.2 and 2.4", "VERIFIED", "grammar; that spaces are data: MEMORY"),
    Origin("T3", "W3C CSVW test suite, validation tests 164 to 167", "VERIFIED"),
    Origin("T4", "W3C CSVW test suite, validation tests 126, 190, 246", "VERIFIED"),
    Origin("T5", "OWASP, CSV Injection", "VERIFIED"),
    Origin("T6", "jsonlines text; RFC 8259, 6", "MEMORY"),
    Origin("T7", "RFC 3339, 5.8", "MEMORY", "Python agrees"),
    Origin("D1", "npm signalk-server 2.23.0, samples/aava-n2k.data", "UNMARKED", "counted by its test"),
    Origin("D2", "npm signalk-server 2.23.0, samples/plaka.log", "UNMARKED", "counted by its test"),
    Origin("D7", "PyPI pqopen-lib 0.10.5, event_data_level_low.csv", "UNMARKED", "counted by its test"),
    Origin("D8", "scipy wheel, Norris.dat", "UNMARKED", "counted by its test"),
    Origin("P1", "20 V AC at 3600 rpm for a 10 A class of flywheel alternator", "COMMON"),
)

ORIGINS = {origin.check: origin for origin in _ALL}

LEFT_OUT = {
    "C1": "least insulation resistances: the project tests no insulation and states no limit for it; that an "
    "ohmmeter can't do it is C2",
}
"""Checks of the list without a test, each with its reason."""

HELD_ELSEWHERE = {
    "W1": ("tests.drivers.scpi.test_numbers", "test_w1_infinity_is_overload_and_never_a_value"),
    "W2": ("tests.drivers.scpi.test_numbers", "test_w2_numbers_of_the_three_forms"),
    "W3": ("tests.drivers.nmea.test_decoder", "test_published_checksums_pass_and_every_other_is_refused"),
    "W4": ("tests.drivers.nmea.test_decoder", "test_published_checksums_pass_and_every_other_is_refused"),
    "W5": ("tests.drivers.nmea.test_decoder", "test_two_tachometers_in_one_sentence"),
    "W6": ("tests.drivers.nmea.test_decoder", "test_transducer_types_and_units"),
    "W7": ("tests.drivers.nmea.test_decoder", "test_what_a_sentence_is_worth"),
    "W9": ("tests.drivers.modbus.test_session", "test_crc_check_value"),
    "W10": ("tests.drivers.modbus.test_session", "test_published_frames_have_the_right_crc"),
    "W11": ("tests.drivers.modbus.test_session", "test_the_published_answer"),
    "W12": ("tests.drivers.modbus.test_session", "test_requests_as_published"),
    "W13": ("tests.drivers.modbus.test_registers", "test_silent_gap"),
    "W14": ("tests.drivers.gatt.test_counts", "test_packets"),
    "W15": ("tests.drivers.gatt.test_counts", "test_time_wraps"),
    "W16": ("tests.drivers.gatt.test_counts", "test_no_rate_is_told_across_a_gap_of_a_clocks_turn"),
    "W17": ("tests.drivers.gatt.test_known", "test_units"),
    "W18": ("tests.drivers.gatt.test_known", "test_published_values"),
    "W19": ("tests.drivers.gatt.test_known", "test_published_values"),
    "W20": ("tests.drivers.gatt.test_known", "test_published_values"),
    "W21": ("tests.drivers.gatt.test_known", "test_exponent_is_a_power_of_ten"),
    "W22": ("tests.drivers.gatt.test_numbers", "test_decimal_floats"),
}
"""Checks of the wire formats, held by tests that stand beside the decoders: module and test."""

NOBODY_USES = {
    "N2": "daq.rated.line_fit.fit_through_origin",
    "N3": "daq.rated.line_fit.fit_through_origin",
    "N4": "daq.rated.line_fit.fit_through_origin",
    "J1": "daq.verdict.conformance.interval_probability",
    "S4": "daq.rated.poles.radians_per_second",
    "F1": "daq.rated.waveform.wave_factors",
    "F4": "daq.rated.waveform.wave_factors",
    "F5": "daq.rated.waveform.wave_factors",
    "F6": "daq.rated.waveform.wave_factors",
    "R1": "daq.job.physics.copper.temperature_rise_k",
    "R3": "daq.job.physics.copper.change_per_kelvin",
    "B3": "daq.job.physics.end_of_charge.end_of_charge_v",
    "B5": "daq.job.physics.peukert.hours_plain",
    "B6": "daq.job.physics.peukert.hours_plain",
}
"""Checks that hold a function which nothing else in the program calls: the print is checked, no command rests on it."""

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
H2_RADIANS = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])

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
