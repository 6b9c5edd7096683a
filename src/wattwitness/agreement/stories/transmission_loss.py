"""Chain or belt takes its part between the two places where the meters measure."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.anatomy import GAIN_FLOOR
from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, REFERENCE_ZERO_NM, Evidence
from wattwitness.agreement.stories.telling import NOTHING_TO_EXPLAIN, percent, told
from wattwitness.model.anatomy import MeterSide, Story

NAME = "transmission_loss"
LOSS_W, LOSS_SD_W = 2.5, 1.2
LOSS_SHARE, LOSS_SHARE_SD = 0.012, 0.008
"""Loss on its way to the brake: 2.5 W and 1.2 % of the power, fitted to published efficiencies of clean chains (2.3 to
3.5 W, 1.0 to 1.4 %), and more where chain or belt is worn, dry or tight: commonly 1 to 4 % in all. The part in W may be
as little as nothing where the meter behind takes idle losses out by a run-down calibration."""


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """By the places on record; where one is not known, the loss may lie either way."""
    behind, ahead = evidence.unit.place.behind_transmission, evidence.reference.place.behind_transmission
    if behind is not None and behind == ahead:
        where = "behind" if behind else "before"
        why = f"Both meters take their power {where} the transmission, so both see its loss alike."
        return (told(NAME, MeterSide.EITHER, allowed=False, why=why),)
    side = MeterSide.EITHER if behind is None or ahead is None else MeterSide.UNIT if behind else MeterSide.REFERENCE
    if not evidence.differs:
        return (told(NAME, side, allowed=False, why=NOTHING_TO_EXPLAIN),)
    unit_is_behind = evidence.bias < 0 if side is MeterSide.EITHER else side is MeterSide.UNIT
    if side is MeterSide.EITHER:
        side = MeterSide.UNIT if unit_is_behind else MeterSide.REFERENCE
        if (side is MeterSide.UNIT and (behind is False or ahead is True)) or (
            side is MeterSide.REFERENCE and (behind is True or ahead is False)
        ):
            why = f"The unit reads {percent(evidence.bias)}, and by its place a loss would lie the other way."
            return (told(NAME, side, allowed=False, why=why),)
    expected = expected_bias(evidence.typical_w, unit_is_behind=unit_is_behind)
    misfit = _misfit(evidence, unit_is_behind=unit_is_behind)
    words = (
        f"A loss of {LOSS_W:g} W and {100 * LOSS_SHARE:g} % of the power before the "
        f"{'unit' if unit_is_behind else 'reference'} would make {percent(expected)} at the ride's "
        f"{evidence.typical_w:.0f} W; there gain and zero together make {percent(evidence.bias)}"
        f"{' at the end of the ride' if evidence.changes else ''}."
    )
    same_way = evidence.bias * expected > 0
    allowed = same_way and misfit >= EXCLUDED_BELOW
    detail = f"the {side.value} behind chain or belt, {percent(expected)} expected"
    if not same_way:
        return (told(NAME, side, allowed=False, why=f"{words} A loss would lie the other way."),)
    return (told(NAME, side, allowed=allowed, why=words, misfit=misfit, detail=detail if allowed else ""),)


def expected_bias(power_w: float, *, unit_is_behind: bool) -> float:
    """Unit over reference less one that the usual loss makes at ``power_w``, as a share."""
    kept = 1 - LOSS_W / power_w - LOSS_SHARE
    return (kept if unit_is_behind else 1 / kept) - 1


def _misfit(evidence: Evidence, *, unit_is_behind: bool) -> float:
    """Probability of at least this disagreement with such a loss, its range and the reference's uncertainty inside."""
    sign = -1.0 if unit_is_behind else 1.0
    gain_variance = LOSS_SHARE_SD**2 + evidence.reference_uncertainty**2 + GAIN_FLOOR**2
    return evidence.fit_watts.misfit(
        sign * np.array([LOSS_SHARE, 0.0, LOSS_W]),
        np.diag([gain_variance, REFERENCE_ZERO_NM**2, LOSS_SD_W**2]),
        np.array([False, False, False]),
    )
