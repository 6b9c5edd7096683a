"""The lag-window sum of ``stats.autocovariance`` against published Newey-West standard errors of regressions.

It makes the block length of the bootstrap (with a flat top); with Bartlett's window it is the estimator that
econometrics prints, so those tables hold it to account.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.published.reference import table
from wattwitness.model.arrays import FloatArray
from wattwitness.stats.autocovariance import lag_window_sum

# Greene WH (1993) Econometric Analysis, 2nd ed., table 15.1, 1964 to 1982: real GNP, real investment, real interest.
GREENE = np.array(
    [
        (876.322660436993, 133.84636526041, 2.01518766568997),
        (929.397525551372, 152.635825712749, 1.85503366772021),
        (984.887962480459, 163.757165190203, 1.27245831091986),
        (1011.38375917025, 155.325069567417, 1.19364773319437),
        (1058.15362248607, 161.497455779016, 0.758279787503155),
        (1087.68291277797, 172.024426777279, 0.720981342379455),
        (1085.51120831055, 157.681793329688, 0.580717824634178),
        (1122.3830850953, 173.315279658369, -0.106331328594858),
        (1185.9, 195.0, 0.344182897614827),
        (1254.27895981087, 217.304964539007, 0.68999999999999),
        (1246.26346889121, 198.731317344456, -0.992695035460986),
        (1231.57643691867, 163.844502742666, -3.05656934306569),
        (1298.17137675684, 194.87683240139, 0.292908816281112),
        (1369.72509817922, 231.417350946091, -0.365902977180004),
        (1438.57199840447, 257.013694987369, 0.0555016065690905),
        (1479.50067311223, 258.842246970995, 1.63753224305278),
        (1475.00280237642, 225.255016253783, 2.59119691592217),
        (1513.83622014964, 243.363738854156, 4.0488532675709),
        (1485.40216550657, 200.357695282289, 5.00380649789895),
    ]
)


def newey_west(design: FloatArray, answer: FloatArray, lags: int) -> tuple[FloatArray, FloatArray]:
    """Least-squares coefficients and their standard errors by Bartlett's window, without small-sample factor."""
    bread = np.linalg.inv(design.T @ design)
    coefficients = bread @ design.T @ answer
    scores = design * (answer - design @ coefficients)[:, None]
    covariances = np.array([scores[lag:].T @ scores[: len(scores) - lag] for lag in range(lags + 1)])
    meat = lag_window_sum(covariances, 1 - np.arange(lags + 1) / (lags + 1))
    return coefficients, np.sqrt(np.diag(bread @ meat @ bread))


def test_greene_investment() -> None:
    """Coefficients -12.534, 0.1691, -1.0014 and Newey-West errors, lag 4, 18.958, 0.0168, 3.3424: from memory (the
    documentation of R's sandwich) and recomputed with it."""
    design = np.column_stack([np.ones(len(GREENE)), GREENE[:, 0], GREENE[:, 2]])
    coefficients, errors = newey_west(design, GREENE[:, 1], 4)
    assert coefficients == pytest.approx([-12.534, 0.1691, -1.0014], abs=5e-4)
    assert errors == pytest.approx([18.958, 0.0168, 3.3424], abs=5e-4)


def test_us_macro_investment() -> None:
    """Stata's ``newey, lag(4)``: .33125645, .29582348, 1.18593381, with factor n/(n - k): read (in the results of a
    library's tests) and recomputed."""
    data = table("hac_macro.csv")
    size = data["g_realinv"].size
    design = np.column_stack([data["g_realgdp"], data["L_realint"], np.ones(size)])
    coefficients, errors = newey_west(design, data["g_realinv"], 4)
    assert coefficients == pytest.approx([4.37422166, -0.61399697, -9.48167277], abs=5e-8)
    factor = np.sqrt(size / (size - 3))
    assert errors * factor == pytest.approx([0.33125645, 0.29582348, 1.18593381], abs=5e-8)
