"""Own errors of three instruments from their differences alone, against Grubbs' chronographs.

Grubbs FE (1973) Technometrics 15:53-66 (method: 1948, J. Am. Stat. Assoc. 43:243-264): velocities of twelve rounds by
three chronographs, m/s. Data read; standard deviations .08, .23 and .47 from memory, the variances recomputed.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.reference.difference_bands import (
    DifferenceSpectra,
    difference_products,
    grubbs_variances,
    own_variances,
)

FOTOBALK = np.array([793.8, 793.1, 792.4, 794.0, 791.4, 792.4, 791.7, 792.3, 789.6, 794.4, 790.9, 793.5])
COUNTER = np.array([794.6, 793.9, 793.2, 794.0, 792.2, 793.1, 792.4, 792.8, 790.2, 795.0, 791.6, 793.8])
TERMA = np.array([793.2, 793.3, 792.6, 793.8, 791.6, 791.6, 791.6, 792.4, 788.5, 794.7, 791.3, 793.5])
OWN_VARIANCES = np.array([0.006515, 0.052500, 0.218636])


def test_from_the_covariance_of_differences() -> None:
    """Six digits of the variances; the standard deviations as printed."""
    differences = np.array([COUNTER - FOTOBALK, TERMA - FOTOBALK])
    found = grubbs_variances(np.cov(differences))
    assert found == pytest.approx(OWN_VARIANCES, abs=5e-7)
    assert np.sqrt(found) == pytest.approx([0.08, 0.23, 0.47], abs=0.005)


def test_as_a_ride_is_evaluated() -> None:
    """By cosine coefficients, in one band, all of equal weight: the same, since they hold the same sum of squares."""
    products = difference_products(np.array([FOTOBALK, COUNTER, TERMA]))
    spectra = DifferenceSpectra(products=products, starts=np.array([1]))
    weights = np.full(12, 1 / 12)
    drawn = own_variances(spectra, weights, np.random.default_rng(1))
    assert drawn[0] == pytest.approx(OWN_VARIANCES, abs=5e-7)
    # The least of the three can hardly be told from none on twelve rounds; the largest is known to within a factor.
    assert np.quantile(drawn[1:, 0], 0.025) < 0 < np.quantile(drawn[1:, 0], 0.975)
    assert 0.09 < np.quantile(drawn[1:, 2], 0.025) < OWN_VARIANCES[2] < np.quantile(drawn[1:, 2], 0.975) < 1.0


def test_from_the_variances_of_differences() -> None:
    """(V_12 + V_13 - V_23) / 2 and its like, from V = 0.0590152, 0.2251515, 0.2711364 (recomputed)."""
    covariance = np.array([[0.0590152, (0.0590152 + 0.2251515 - 0.2711364) / 2], [0.0, 0.2251515]])
    covariance[1, 0] = covariance[0, 1]
    assert grubbs_variances(covariance) == pytest.approx(OWN_VARIANCES, abs=5e-7)
