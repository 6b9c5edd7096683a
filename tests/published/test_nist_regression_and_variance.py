"""Least squares and analysis of variance against the certified values of NIST's Statistical Reference Datasets.

Data and certified values read (NIST/ITL, StRD: Norris; SiRstv, AtmWtAg, SmLs01, SmLs07). Digits that agree are stated
beside each, and are what double precision and deviations from the mean can hold.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.reference import table
from tests.published.test_errors_in_variables import NORRIS
from wattwitness.model.arrays import FloatArray, IntArray
from wattwitness.stats.least_squares import straight_line
from wattwitness.stats.variance_components import one_way

TREATMENTS = np.repeat(np.arange(1, 6), 5)
# SiRstv: resistance of silicon wafers by five instruments, five readings each, ohm cm.
SILICON = np.array(
    """196.3052 196.1240 196.1890 196.2569 196.3403 196.3042 196.3825 196.1669 196.3257 196.0422
    196.1303 196.2005 196.2889 196.0343 196.1811 196.2795 196.1748 196.1494 196.1485 195.9885
    196.2119 196.1051 196.1850 196.0052 196.2090""".split(),
    dtype=float,
)


def grouped(treatment: FloatArray | IntArray, values: FloatArray) -> list[FloatArray]:
    """Values by treatment."""
    return [values[treatment == one] for one in np.unique(treatment)]


def test_norris() -> None:
    """Linear regression of lower difficulty: 12 digits of the coefficients, 10 of their deviations."""
    line = straight_line(NORRIS[:, 1], NORRIS[:, 0])
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.intercept_se == pytest.approx(0.232818234301152, rel=1e-10)
    assert line.slope_se == pytest.approx(0.429796848199937e-03, rel=1e-10)
    assert line.residual_sd == pytest.approx(0.884796396144373, rel=1e-10)
    assert line.r_squared == pytest.approx(0.999993745883712, rel=1e-14)
    assert line.degrees == 34


def test_silicon() -> None:
    """Analysis of variance of lower difficulty: 10 digits."""
    analysed = one_way(grouped(TREATMENTS, SILICON))
    assert analysed.between_square == pytest.approx(1.27865654000000e-02, rel=1e-10)
    assert analysed.within_square == pytest.approx(1.08318280000000e-02, rel=1e-10)
    assert analysed.f_ratio == pytest.approx(1.18046237440255, rel=1e-10)
    assert analysed.r_squared == pytest.approx(0.190999039051129, rel=1e-10)
    assert (analysed.between_degrees, analysed.within_degrees) == (4, 20)


def test_atomic_weight_of_silver() -> None:
    """Average difficulty: seven digits before those that vary, so 7 digits of the result are left."""
    data = table("nist_AtmWtAg.csv")
    analysed = one_way(grouped(data["treatment"], data["y"]))
    assert analysed.f_ratio == pytest.approx(15.9467335677930, rel=1e-7)
    assert analysed.between_square == pytest.approx(3.63834187500000e-09, rel=1e-7)
    assert analysed.within_square == pytest.approx(2.28155932971014e-10, rel=1e-7)


def test_simon_and_lesage() -> None:
    """SmLs01: 10 digits. SmLs07 carries thirteen constant digits: the data themselves are rounded by double precision,
    and three digits of F are what is left, as the dataset means to show."""
    for name, digits in (("nist_SmLs01.csv", 1e-10), ("nist_SmLs07.csv", 5e-3)):
        data = table(name)
        analysed = one_way(grouped(data["treatment"], data["y"]))
        assert analysed.f_ratio == pytest.approx(21.0, rel=digits)
        assert analysed.within_square == pytest.approx(0.01, rel=digits)
