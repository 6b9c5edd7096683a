"""Conformity against JCGM 106:2012 and its like.

Table 7.3's factors, clause 7.4's examples and clause 9.5.4's A_U and R_C: the latter read in retrieved text, the others
from memory and recomputed. Producer's risk of 9.5.4 and all of 9.5.5's figures: inputs from memory, recomputed. The
last two: read in retrieved text of conference papers on decision risk, recomputed.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.special import gammaln, ndtri

from wattwitness.conformity.global_risk import GlobalRisks, global_risks
from wattwitness.conformity.probability import Known, chance_below, chance_within
from wattwitness.model.arrays import FloatArray


def gamma_4_4(x: FloatArray) -> FloatArray:
    """Gamma density with shape 4 and rate 4, the prior of 9.5.4."""
    return np.asarray(np.exp(4 * np.log(4) - gammaln(4) + 3 * np.log(np.maximum(x, 1e-300)) - 4 * x))


def normal(mean: float, sd: float) -> Callable[[FloatArray], FloatArray]:
    return lambda x: np.exp(-0.5 * ((x - mean) / sd) ** 2) / (sd * math.sqrt(2 * math.pi))


def resistor(acceptance: float) -> GlobalRisks:
    """9.5.5: resistances of 1500 ohms, standard deviation 0.12, tolerance 0.2, measured to 0.04."""
    return global_risks(
        normal(1500, 0.12),
        (1499, 1501),
        tolerance=(1499.8, 1500.2),
        acceptance=(1500 - acceptance, 1500 + acceptance),
        measurement=0.04,
    )


@pytest.mark.parametrize(("share", "factor"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)])
def test_one_sided_factors_of_table_7_3(share: float, factor: float) -> None:
    assert ndtri(share) == pytest.approx(factor, abs=0.006)
    known = Known(mean=0.0, standard_error=0.0, degrees=math.inf, reference=1.0)
    assert float(chance_below(factor, known)) == pytest.approx(share, abs=0.0015)


def test_one_sided_upper_limit_of_clause_7() -> None:
    """y = -5.47, u = 0.05, T_U = -5.40: p_c = 0.92."""
    for known in (
        Known(mean=-5.47, standard_error=0.0, degrees=math.inf, reference=0.05),
        Known(mean=-5.47, standard_error=0.05, degrees=math.inf, reference=0.0),
        Known(mean=-5.47, standard_error=0.03, degrees=math.inf, reference=0.04),
    ):
        assert float(chance_below(-5.40, known)) == pytest.approx(0.919243, abs=5e-4)


def test_two_sided_limits_of_clause_7() -> None:
    """y = 13.6, u = 1.8, limits 12.5 to 16.3: p_c = 0.66."""
    known = Known(mean=13.6 - 14.4, standard_error=0.0, degrees=math.inf, reference=1.8)
    assert chance_within(1.9, known) == pytest.approx(0.662630, abs=1e-6)


def test_no_inspection_of_9_5_4() -> None:
    risks = global_risks(gamma_4_4, (0, 12), tolerance=(-math.inf, 2), acceptance=(-math.inf, math.inf), measurement=1)
    assert risks.nonconforming == pytest.approx(0.042380, abs=1e-6)
    assert risks.consumers == pytest.approx(risks.nonconforming)
    assert risks.producers == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize(("accept", "consumers", "producers"), [(2.0, 0.008019, 0.017445), (1.671829, 0.001, 0.075494)])
def test_guard_band_of_9_5_4(accept: float, consumers: float, producers: float) -> None:
    risks = global_risks(gamma_4_4, (0, 12), tolerance=(-math.inf, 2), acceptance=(-math.inf, accept), measurement=0.25)
    assert risks.consumers == pytest.approx(consumers, abs=2e-6)
    assert risks.producers == pytest.approx(producers, abs=2e-6)


@pytest.mark.parametrize(
    ("acceptance", "consumers", "producers"),
    [(0.2, 0.018942, 0.037208), (0.16, 0.004334, 0.114657), (0.12, 0.000468634, 0.247670)],
)
def test_resistors_of_9_5_5(acceptance: float, consumers: float, producers: float) -> None:
    risks = resistor(acceptance)
    assert risks.nonconforming == pytest.approx(0.095581, abs=1e-6)
    assert risks.consumers == pytest.approx(consumers, abs=1e-6)
    assert risks.producers == pytest.approx(producers, abs=1e-6)


@pytest.mark.parametrize(
    ("measurement", "accept", "false_accept", "false_reject"), [(0.25, 2.0, 0.008, 0.015), (0.5, 1.82, 0.008, 0.066)]
)
def test_guard_banded_process(measurement: float, accept: float, false_accept: float, false_reject: float) -> None:
    """A process N(0, 1) with limits of 2, printed to three decimals."""
    risks = global_risks(
        normal(0, 1), (-9, 9), tolerance=(-2, 2), acceptance=(-accept, accept), measurement=measurement
    )
    assert risks.consumers == pytest.approx(false_accept, abs=6e-4)
    assert risks.producers == pytest.approx(false_reject, abs=6e-4)


@pytest.mark.parametrize(
    ("in_tolerance", "percent"),
    [(0.60, 4.83860326), (0.70, 3.92234109), (0.80, 2.85583037), (0.90, 1.59995312), (0.95, 0.87100925),
     (0.99, 0.19991684)],
)  # fmt: skip
def test_false_accept_by_share_in_tolerance(in_tolerance: float, percent: float) -> None:
    """Tolerance of 1, measured to a quarter of the process's standard deviation; given to nine digits, held to six."""
    sd = 1 / float(ndtri(0.5 + in_tolerance / 2))
    risks = global_risks(normal(0, sd), (-9 * sd, 9 * sd), tolerance=(-1, 1), acceptance=(-1, 1), measurement=sd / 4)
    assert 100 * risks.consumers == pytest.approx(percent, rel=2e-6)
