"""Random effects against published worked examples.

BCG: Colditz et al. (1994) JAMA 271:698-702, log risk ratios; estimates recomputed with a general meta-analysis package,
given to six digits. Kacker RN (2004) Metrologia 41:132-136: read in a statistics library's tests, recomputed.
DerSimonian R, Kacker R (2007) Contemp. Clin. Trials 28:105-114, tables 3 and 4: read in a package's test of them,
recomputed; printed to four digits.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.conformity.spread import spread_quantile
from wattwitness.model.arrays import FloatArray
from wattwitness.study.effects import Between, between_variance, cochran_q, pooled

BCG = np.array(
    [
        (-0.889311333920205, 0.325584765003961),
        (-1.58538865720143, 0.194581121398144),
        (-1.34807314829969, 0.415367965367965),
        (-1.44155119002131, 0.0200100319022476),
        (-0.217547322211296, 0.0512101721696309),
        (-0.786115585818864, 0.00690561845590876),
        (-1.62089822359839, 0.223017247572315),
        (0.0119523335238405, 0.00396157929781773),
        (-0.469417648738149, 0.056434210463249),
        (-1.37134480347278, 0.0730247936130289),
        (-0.339358828338391, 0.0124122139715597),
        (0.445913400571379, 0.532505845200153),
        (-0.0173139482168798, 0.0714046596839863),
    ]
).T
KACKER = np.array(
    [(61.0, 0.2025), (61.4, 1.21), (62.21, 0.09), (62.3, 0.2025), (62.34, 0.3844), (62.6, 0.5625), (62.7, 0.0676),
     (62.84, 0.0225), (65.9, 1.8225)]
).T  # fmt: skip
CLASP = np.array(
    [(156, 74, 5, 8), (303, 303, 5, 17), (565, 477, 12, 9), (1570, 1565, 69, 94), (103, 105, 9, 11),
     (4659, 4650, 313, 352)], dtype=float,
)  # fmt: skip


def clasp() -> tuple[FloatArray, FloatArray]:
    """Log odds ratios and their variances from treated, controls and events in each."""
    treated, controls, events, others = CLASP.T
    effect = np.log(events * (controls - others) / ((treated - events) * others))
    return effect, 1 / events + 1 / (treated - events) + 1 / others + 1 / (controls - others)


@pytest.mark.parametrize(
    ("how", "between", "mean", "error", "knapp"),
    [
        (Between.DERSIMONIAN_LAIRD, 0.308760, -0.714117, 0.178742, 0.180697),
        (Between.RESTRICTED_LIKELIHOOD, 0.313243, -0.714532, 0.179782, 0.180792),
        (Between.PAULE_MANDEL, 0.318068, -0.714968, 0.180892, 0.180892),
    ],
)
def test_bcg(how: Between, between: float, mean: float, error: float, knapp: float) -> None:
    """0.318094, printed by one program for Paule and Mandel, stops too early and is rejected."""
    found = between_variance(BCG[0], BCG[1], how)
    over = pooled(BCG[0], BCG[1], found)
    assert found == pytest.approx(between, abs=6e-7)
    assert over.mean == pytest.approx(mean, abs=6e-7)
    assert over.standard_error == pytest.approx(error, abs=6e-7)
    assert over.hartung_knapp == pytest.approx(knapp, abs=6e-7)


def test_bcg_q_and_the_interval_of_its_variance() -> None:
    assert cochran_q(BCG[0], BCG[1]) == pytest.approx(152.2330, abs=6e-5)
    errors = np.sqrt(BCG[1])
    low, high = (spread_quantile(share, BCG[0], errors) ** 2 for share in (0.025, 0.975))
    assert low == pytest.approx(0.1197, abs=6e-5)
    assert high == pytest.approx(1.1115, abs=6e-5)


def test_kacker() -> None:
    """0.5359, printed for DerSimonian and Laird, recomputes to 0.5367."""
    mandel = between_variance(KACKER[0], KACKER[1], Between.PAULE_MANDEL)
    over = pooled(KACKER[0], KACKER[1], mandel)
    assert mandel**0.5 == pytest.approx(0.8399, abs=6e-5)
    assert over.mean == pytest.approx(62.40762, abs=6e-6)
    assert over.standard_error == pytest.approx(0.3380306, abs=6e-8)
    assert cochran_q(KACKER[0], KACKER[1]) == pytest.approx(24.8019, abs=6e-5)
    assert between_variance(KACKER[0], KACKER[1], Between.DERSIMONIAN_LAIRD) ** 0.5 == pytest.approx(0.5367, abs=6e-5)


@pytest.mark.parametrize(
    ("how", "between", "mean", "error"),
    [
        (Between.PAULE_MANDEL, 0.3681, -0.3811, 0.2060),
        (Between.DERSIMONIAN_LAIRD, 0.2323, -0.3240, 0.1540),
        (Between.RESTRICTED_LIKELIHOOD, 0.1843, -0.2980, 0.1343),
    ],
)
def test_dersimonian_and_kacker(how: Between, between: float, mean: float, error: float) -> None:
    effect, variance = clasp()
    found = between_variance(effect, variance, how)
    over = pooled(effect, variance, found)
    assert found**0.5 == pytest.approx(between, abs=6e-5)
    assert over.mean == pytest.approx(mean, abs=6e-5)
    assert over.standard_error == pytest.approx(error, abs=6e-5)
