"""The rider's figures against the outside.

Level percentages: 55, 75, 90, 105, 120, 150 % (Allen H, Coggan A, 2nd ed. 2010, from memory; read in several web texts,
others differ by a point). Within-subject standard deviation: peak flow of 20 children, 4 blows each, Bland JM, Altman
DG (1996) BMJ 313:744 (data read on a statistics page; 460.52 from memory and recomputed, the rest recomputed).
95 % of a 20-minute mean: common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest

from wattwitness.rider.detectable import FACTOR, within_subject_sd
from wattwitness.rider.threshold import SHARE
from wattwitness.rider.zone_sets import SEVEN

CHILDREN = np.array(
    [(190, 220, 200, 200), (220, 200, 240, 230), (260, 260, 240, 280), (210, 300, 280, 265), (270, 265, 280, 270),
     (280, 280, 270, 275), (260, 280, 280, 300), (275, 275, 275, 305), (280, 290, 300, 290), (320, 290, 300, 290),
     (300, 300, 310, 300), (270, 250, 330, 370), (320, 330, 330, 330), (335, 320, 335, 375), (350, 320, 340, 365),
     (360, 320, 350, 345), (330, 340, 380, 390), (335, 385, 360, 370), (400, 420, 425, 420), (430, 460, 480, 470)],
    dtype=float,
)  # fmt: skip


def test_level_percentages() -> None:
    assert [round(100 * share) for share in SEVEN.upper] == [55, 75, 90, 105, 120, 150]
    assert len(SEVEN.names) == 7


def test_within_subject_sd_of_peak_flow() -> None:
    """Mean square 460.52, standard deviation 21.46, smallest detectable change 59.48 l/min."""
    found = within_subject_sd(list(CHILDREN))
    assert found**2 == pytest.approx(460.52, abs=0.005)
    assert found == pytest.approx(21.46, abs=0.005)
    assert FACTOR * found == pytest.approx(59.48, abs=0.005)


def test_threshold_is_95_per_cent_of_twenty_minutes() -> None:
    assert SHARE == 0.95
