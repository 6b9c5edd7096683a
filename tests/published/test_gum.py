"""Propagation of uncertainty, straight line and components of variance against the examples of the GUM (JCGM 100).

How each was verified: data and results read in stored public copies, and recomputed, unless said.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Distribution
from wattwitness.reference.propagation import Input, monte_carlo, propagate, welch_satterthwaite
from wattwitness.stats.least_squares import straight_line
from wattwitness.stats.variance_components import one_way

# H.1, end-gauge calibration: inputs, results 50.000838 mm and u_c 32 nm and the single contributions read.
RECTANGULAR, ARCSINE = Distribution.RECTANGULAR, Distribution.ARCSINE
END_GAUGE = (
    Input(estimate=50_000_623.0, standard_uncertainty=25.0, degrees=18),
    Input(estimate=215.0, standard_uncertainty=5.8, degrees=24),
    Input(estimate=0.0, standard_uncertainty=3.9, degrees=5),
    Input(estimate=0.0, standard_uncertainty=6.7, degrees=8),
    Input(estimate=11.5e-6, standard_uncertainty=2e-6 / math.sqrt(3), distribution=RECTANGULAR),
    Input(estimate=0.0, standard_uncertainty=1e-6 / math.sqrt(3), distribution=RECTANGULAR, degrees=50),
    Input(estimate=0.0, standard_uncertainty=0.05 / math.sqrt(3), distribution=RECTANGULAR, degrees=2),
    Input(estimate=-0.1, standard_uncertainty=0.2),
    Input(estimate=0.0, standard_uncertainty=0.5 / math.sqrt(2), distribution=ARCSINE),
)


def end_gauge_nm(x: FloatArray) -> FloatArray:
    """Length of the end gauge, equation H.2 before it is approximated, nm."""
    standard, repeated, random, systematic, expansion, apart, warmer, bench, cyclic = x
    difference, bath = repeated + random + systematic, bench + cyclic
    own = expansion + apart
    own_bath = bath + warmer
    answer: FloatArray = (standard * (1 + expansion * bath) + difference) / (1 + own * own_bath)
    return answer


def end_gauge_as_printed_nm(x: FloatArray) -> FloatArray:
    """The same as the example writes it out: l_S + d - l_S(d_alpha * theta + alpha_S * d_theta)."""
    standard, repeated, random, systematic, expansion, apart, warmer, bench, cyclic = x
    answer: FloatArray = (
        standard + repeated + random + systematic - standard * (apart * (bench + cyclic) + expansion * warmer)
    )
    return answer


def test_the_end_gauge() -> None:
    """H.1: 50.000838 mm, u_c 32 nm and its contributions (read); nu_eff 16 (truncated) and U99 93 nm from memory, the
    first recomputed."""
    result = propagate(end_gauge_as_printed_nm, END_GAUGE, 0.99)
    assert round(result.value) == 50_000_838
    assert result.standard == pytest.approx(31.7, abs=0.05)
    parts = np.abs(result.parts)
    assert parts[:4] == pytest.approx([25, 5.8, 3.9, 6.7], abs=0.05)
    assert parts[5] == pytest.approx(2.9, abs=0.05)
    assert parts[6] == pytest.approx(16.6, abs=0.05)
    assert parts[[4, 7, 8]] == pytest.approx([0, 0, 0], abs=1e-6)
    assert math.floor(result.degrees) == 16
    assert 2.92 * result.standard == pytest.approx(93, abs=0.7)  # t_99(16) = 2.92, as the example takes it
    assert result.coverage_factor == pytest.approx(2.92, abs=0.03)


def test_the_end_gauge_to_second_order() -> None:
    """H.1.7: terms of second order make the standard uncertainty 34 nm (from memory), which drawing includes."""
    normal = tuple(
        Input(estimate=item.estimate, standard_uncertainty=item.standard_uncertainty, distribution=item.distribution)
        for item in END_GAUGE
    )
    assert monte_carlo(end_gauge_nm, normal, 0.99, draws=200_000).standard == pytest.approx(33.8, abs=0.5)


def test_effective_degrees_of_freedom_of_the_end_gauge() -> None:
    """H.1.6: 16.7 before it is truncated, from the rounded contributions of the example (recomputed)."""
    parts = np.array([25, 9.7, 2.9, 16.6])
    degrees = (18, 25.6, 50, 2)
    assert welch_satterthwaite(parts, degrees) == pytest.approx(16.7, abs=0.1)


# H.3, calibration of a thermometer: temperatures and corrections, in degrees Celsius (read).
THERMOMETER_T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511])
THERMOMETER_B = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])


def test_the_thermometer() -> None:
    """H.3: y1 -0.1712, s 0.0029; y2 0.00218, s 0.00067; r -0.930; s 0.0035; b(30) -0.1494, u 0.0041, 9 degrees."""
    line = straight_line(THERMOMETER_T - 20, THERMOMETER_B)
    assert line.intercept == pytest.approx(-0.1712, abs=5e-5)
    assert line.intercept_se == pytest.approx(0.0029, abs=5e-5)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_se == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_sd == pytest.approx(0.0035, abs=5e-5)
    assert line.degrees == 9
    assert line.at(10.0) == pytest.approx((-0.1494, 0.0041), abs=5e-5)


# H.5, Zener voltage standard: mean of five readings on each of ten days, V, and their standard deviation, uV (read).
ZENER_V = 10 + 1e-6 * np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41.0])
ZENER_SD_UV = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86.0])


def five_with(mean_v: float, sd_uv: float) -> FloatArray:
    """Five readings of that mean and standard deviation; the example gives no more of them."""
    shape = np.array([-2, -1, 0, 1, 2.0])
    return np.asarray(mean_v + 1e-6 * sd_uv * shape / shape.std(ddof=1))


def test_the_zener_standard() -> None:
    """H.5: mean 10.000097 V, s of the day means 57 uV, within 85 uV, F 2.25 from rounded numbers, 2.2615 unrounded
    (read); s_B 43 uV, u 18 uV between days and 13 uV pooled (from memory, recomputed)."""
    analysed = one_way([five_with(mean, sd) for mean, sd in zip(ZENER_V, ZENER_SD_UV, strict=True)])
    assert analysed.mean == pytest.approx(10.000097, abs=5e-7)
    assert 1e6 * math.sqrt(analysed.between_square / 5) == pytest.approx(57, abs=0.5)
    assert 1e6 * math.sqrt(analysed.within_square) == pytest.approx(85, abs=0.5)
    assert analysed.f_ratio == pytest.approx(2.2615, abs=5e-4)
    assert (analysed.between_degrees, analysed.within_degrees) == (9, 40)
    assert 1e6 * math.sqrt(analysed.between_variance) == pytest.approx(43, abs=0.5)
    uncertainty, degrees = analysed.mean_uncertainty
    assert 1e6 * uncertainty == pytest.approx(18, abs=0.1)
    assert degrees == 9


def test_groups_that_do_not_differ_are_pooled() -> None:
    """H.5.2.5: as if the days made no difference, all fifty readings give 13 uV (from memory, recomputed)."""
    rng = np.random.default_rng(5)
    same = [five_with(10.0 + 1e-9 * rng.standard_normal(), sd) for sd in ZENER_SD_UV]
    uncertainty, degrees = one_way(same).mean_uncertainty
    assert degrees == 49
    assert 1e6 * uncertainty == pytest.approx(math.sqrt(40 / 49) * 85 / math.sqrt(50), abs=0.1)
