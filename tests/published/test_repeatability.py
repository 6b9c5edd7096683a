"""Repeatability and reproducibility: ASTM E691's glucose example (8 laboratories, 3 replicates), by the formulas of ISO
5725-2. Data read in a package; results from memory and recomputed. Of the materials only A, D and E agree with what is
remembered of the standard; B and C do not and are rejected.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.study.precision import precision

GLUCOSE = {
    "A": [(41.03, 41.45, 41.37), (41.17, 42.0, 41.15), (41.01, 40.68, 42.66), (39.37, 42.37, 42.63),
          (41.88, 41.19, 41.32), (43.28, 40.5, 42.28), (41.08, 41.27, 39.02), (43.36, 42.65, 41.72)],
    "D": [(193.71, 193.59, 193.65), (190.88, 200.14, 194.3), (192.71, 193.28, 190.28), (195.85, 196.36, 199.43),
          (192.59, 191.44, 195.12), (195.34, 198.26, 198.13), (194.66, 191.99, 187.13), (197.56, 195.99, 200.82)],
    "E": [(292.78, 294.09, 292.89), (292.27, 309.4, 295.08), (295.53, 290.14, 292.34), (295.19, 295.44, 296.83),
          (293.93, 292.48, 294.28), (297.74, 296.8, 290.33), (287.29, 293.76, 289.36), (298.46, 295.28, 296.12)],
}  # fmt: skip


@pytest.mark.parametrize(
    ("material", "within", "total"), [("A", 1.0632, 1.0632), ("D", 2.6251, 3.3657), ("E", 3.9350, 4.1923)]
)
def test_glucose(material: str, within: float, total: float) -> None:
    found = precision([np.array(laboratory) for laboratory in GLUCOSE[material]], unit="mg/dl")
    assert found.repeatability.value == pytest.approx(within, abs=6e-5)
    assert found.intermediate.value == pytest.approx(total, abs=6e-5)
