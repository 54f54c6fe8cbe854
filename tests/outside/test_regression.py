"""Lines and averages against the certified values of the NIST statistical reference datasets."""

from __future__ import annotations

from fractions import Fraction
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
import statsmodels.api as sm

import daq
from daq.align.lag import LagEstimate
from daq.align.scatter import correlation_time
from daq.model.reading import Reading
from daq.rated.instrument_limits import InstrumentLimits
from daq.rated.line_fit import fit_line, fit_through_origin
from daq.rated.output import CountedRows, rated_output
from daq.recording.entries import Line
from tests.daq.recording.builders import record
from tests.outside.published import NORRIS_Y_X, held_against
from tests.runs import machine_of

NORRIS_PLACE = ("stats", "tests", "data", "nist_linregress", "Norris.dat")
NORRIS_FIRST_LINE = 61

NOINT1_X, NOINT1_Y = np.arange(60.0, 71.0), np.arange(130.0, 141.0)
NOINT2_X, NOINT2_Y = np.array([4.0, 5.0, 6.0]), np.array([3.0, 4.0, 4.0])


def norris() -> np.ndarray:
    """The pairs (y, x) of the file that scipy ships; the printed ones where it ships it no more."""
    file = files("scipy").joinpath(*NORRIS_PLACE)
    if not file.is_file():
        return NORRIS_Y_X
    lines = file.read_text(encoding="ascii").splitlines()[NORRIS_FIRST_LINE - 1 :]
    return np.array([[float(word) for word in line.split()] for line in lines if line.strip()])


@held_against("N1", "D8")
def test_norris_file_is_the_printed_data() -> None:
    assert norris().shape == (36, 2)
    assert np.array_equal(norris(), NORRIS_Y_X)


@held_against("N1")
def test_norris_line() -> None:
    y, x = norris().T
    fit = fit_line(x, y)
    assert fit.offset == pytest.approx(-0.262323073774029, rel=1e-11)
    assert fit.u_offset == pytest.approx(0.232818234301152, rel=1e-11)
    assert fit.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert fit.u_slope == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert fit.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert fit.r_squared == pytest.approx(0.999993745883712, rel=1e-14)
    rss = fit.residual_sd**2 * fit.degrees_of_freedom
    assert rss == pytest.approx(26.6173985294224, rel=1e-11)
    explained = rss * fit.r_squared / (1.0 - fit.r_squared)
    assert explained == pytest.approx(4255954.13232369, rel=1e-9)
    assert (fit.slope / fit.u_slope) ** 2 == pytest.approx(5436385.54079785, rel=1e-10)


@held_against("N1")
def test_norris_with_columns_swapped_is_another_line() -> None:
    """The file has y first: read the other way round, the slope is off by far more than its uncertainty."""
    x, y = norris().T
    assert abs(fit_line(x, y).slope - 1.00211681802045) > 5.0 * 0.43e-3


@held_against("N2")
def test_volts_per_rpm_through_the_origin() -> None:
    fit = fit_through_origin(NOINT1_X, NOINT1_Y)
    assert fit.slope == pytest.approx(2.07438016528926, rel=1e-14)
    assert fit.u_slope == pytest.approx(0.165289256198347e-01, rel=1e-13)
    assert fit.residual_sd == pytest.approx(3.56753034006338, rel=1e-13)
    assert fit.r_squared == pytest.approx(0.999365492298663, rel=1e-14)
    assert fit.degrees_of_freedom == 10
    assert fit.residual_sd**2 * 10 == pytest.approx(127.272727272727, rel=1e-12)
    assert (fit.slope / fit.u_slope) ** 2 == pytest.approx(15750.25, rel=1e-12)
    peer = sm.OLS(NOINT1_Y, NOINT1_X).fit()
    assert (fit.slope, fit.u_slope, fit.r_squared) == pytest.approx(
        (peer.params[0], peer.bse[0], peer.rsquared), rel=1e-12
    )


@held_against("N3")
def test_three_points_through_the_origin() -> None:
    fit = fit_through_origin(NOINT2_X, NOINT2_Y)
    assert fit.slope == pytest.approx(float(Fraction(8, 11)), rel=1e-15)
    assert fit.u_slope == pytest.approx(0.420827318078432e-01, rel=1e-13)
    assert fit.residual_sd == pytest.approx(0.369274472937998, rel=1e-13)
    assert fit.r_squared == pytest.approx(0.993348115299335, rel=1e-14)
    assert fit.residual_sd**2 * 2 == pytest.approx(0.272727272727273, rel=1e-12)
    assert (fit.slope / fit.u_slope) ** 2 == pytest.approx(298.6666666666667, rel=1e-12)


@held_against("N4")
def test_r_squared_through_the_origin_is_not_that_around_the_mean() -> None:
    fit = fit_through_origin(NOINT1_X, NOINT1_Y)
    rss = fit.residual_sd**2 * fit.degrees_of_freedom
    around_mean = 1.0 - rss / float(np.sum((NOINT1_Y - NOINT1_Y.mean()) ** 2))
    assert around_mean < 0.0 < fit.r_squared


def numacc4() -> np.ndarray:
    return np.array([10000000.2] + [10000000.1, 10000000.3] * 500)


@held_against("N5")
def test_mean_and_scatter_of_large_numbers() -> None:
    """Volts of ten million with a scatter of a tenth, at rated speed: mean and scatter keep their digits."""
    volts = numacc4()
    n = len(volts)
    rows = CountedRows(np.arange(float(n)), volts, np.full(n, 3600.0), np.zeros(n))
    none = InstrumentLimits(known=False, share=0.0, counts=0.0, digit=0.0)
    output = rated_output(rows, 3600.0, LagEstimate(0.0, 0.0, determined=True), none, none)
    assert output is not None
    assert output.rated_voltage_v == pytest.approx(10000000.2, rel=1e-15)
    assert output.scatter_v == pytest.approx(0.1, rel=1e-8)
    # Neighbours that alternate (-0.999) are no reason to claim more than the number of rows.
    assert correlation_time(volts) == 1.0


@held_against("N5")
def test_a_recording_of_large_numbers(tmp_path: Path) -> None:
    """The same numbers as the volts of a recording at rated speed, from the file to what is worked out of them.

    As volts they are beyond any hand meter, so the result itself states nothing and says so. They are taken a
    thousandth as large, for beyond 100 kV nothing is believed at all; sixteen digits are as hard to keep.
    """
    volts = numacc4() / 1000.0
    stamps_ns = [100_000_000 * (i + 1) for i in range(len(volts))]
    lines: list[Line] = []
    for t_ns, value in zip(stamps_ns, volts.tolist(), strict=True):
        lines += [Reading(1, t_ns, 3600.0), Reading(0, t_ns, value)]
    run = daq.open_recording(record(tmp_path / "large.jsonl", lines), machine=machine_of(3600.0))
    result, output, rows = run.result(), run.analysis().output, run.aligned()
    assert rows["voltage_V"].tolist() == volts.tolist()
    assert result.rows == 1001
    # The speed comes from revolutions of the whole run, whose sums cost it two digits of the sixteen.
    assert output is not None
    assert output.rated_voltage_v == pytest.approx(10000.0002, rel=1e-13)
    scatter = next(c for c in output.budget.contributions if c.name == "scatter of the readings")
    # 0.0001 of each, alternating (-0.999): no more than the number of rows that count is claimed.
    assert scatter.standard_uncertainty == pytest.approx(
        0.0001 / (result.rows - result.rows_rejected) ** 0.5, rel=1e-6
    )
    assert result.rows_rejected <= 3
    assert result.rated_voltage_V is None
    assert "beyond any hand meter" in result.reasons[0]


@held_against("N5")
def test_line_over_large_numbers_keeps_its_digits() -> None:
    """A slope of a millionth on ten million, against exact fractions."""
    x = numacc4()
    y = np.arange(float(len(x)))
    fx, fy = [Fraction(v) for v in x.tolist()], [Fraction(v) for v in y.tolist()]
    n = len(fx)
    mx, my = sum(fx) / n, sum(fy) / n
    sxx = sum((a - mx) ** 2 for a in fx)
    slope = sum((a - mx) * (b - my) for a, b in zip(fx, fy, strict=True)) / sxx
    fit = fit_line(x, y)
    assert fit.slope == pytest.approx(float(slope), rel=1e-6)


@pytest.mark.parametrize("points", [0, 1])
def test_too_few_points_are_refused(points: int) -> None:
    few = np.arange(1.0, 1.0 + points)
    with pytest.raises(ValueError, match="two points"):
        fit_through_origin(few, few)
    with pytest.raises(ValueError, match="three points"):
        fit_line(few, few)


def test_points_at_one_place_are_refused() -> None:
    with pytest.raises(ValueError, match="different places"):
        fit_line(np.full(5, 3000.0), np.arange(5.0))
    with pytest.raises(ValueError, match="away from it"):
        fit_through_origin(np.zeros(5), np.arange(5.0))
