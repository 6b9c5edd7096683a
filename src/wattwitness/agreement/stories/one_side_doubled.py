"""One leg is measured and doubled: the meter is off by twice what that leg's share is from a half."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, Evidence, MeterFacts
from wattwitness.agreement.stories.telling import NOTHING_TO_EXPLAIN, in_sentence, percent, told, zero_left_over
from wattwitness.model.anatomy import MeterSide, Story
from wattwitness.model.setup import Place, Sides

NAME = "one_side_doubled"
SHARES = (0.40, 0.60)
"""Left shares on record for riders, of the whole: a doubled leg is off by -20 to +20 %."""

AS_EXPECTED = (0.4, 1.6)
"""The change with the left share may be this part of what doubling makes: a recorded share scatters by itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Doubling:
    """Which leg of which meter, and the change of unit over reference for one point of left share it would make."""

    side: MeterSide
    leg: str
    per_point_pct: float


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """By the change with a recorded left share where there is one; else by the size of the gain alone."""
    stories = []
    for side, facts in ((MeterSide.UNIT, evidence.unit), (MeterSide.REFERENCE, evidence.reference)):
        stories.append(_of_meter(evidence, side, facts))
    return tuple(stories)


def _of_meter(evidence: Evidence, side: MeterSide, facts: MeterFacts) -> Story:
    if facts.sides is Sides.BOTH:
        return told(NAME, side, allowed=False, why=f"The {side.value} measures both legs, by the record.")
    if facts.place in (Place.SPIDER, Place.HUB, Place.BRAKE):
        why = f"The {side.value} takes its power at the {facts.place.value}, where both legs act."
        return told(NAME, side, allowed=False, why=why)
    slope = evidence.anatomy.per_left_point_pct
    if slope.value is not None and evidence.left_share_of is not None and evidence.left_share_of is not side:
        return _by_share(evidence, side)
    if evidence.left_share_of is side:
        return told(NAME, side, allowed=False, why=f"The {side.value} recorded both legs' shares, so it measures both.")
    return _by_size(evidence, side)


def doublings(evidence: Evidence, side: MeterSide) -> tuple[_Doubling, ...]:
    """What either leg of one meter, doubled, would do, by the mean left share."""
    left = (evidence.anatomy.left_share_pct.value or 50.0) / 100
    ratio, sign = 1 + evidence.bias, 1.0 if side is MeterSide.UNIT else -1.0
    return (
        _Doubling(side=side, leg="left", per_point_pct=sign * ratio / left),
        _Doubling(side=side, leg="right", per_point_pct=-sign * ratio / (1 - left)),
    )


def _by_share(evidence: Evidence, side: MeterSide) -> Story:
    slope = evidence.anatomy.per_left_point_pct
    value, low, high = slope.value or 0.0, slope.low or 0.0, slope.high or 0.0
    seen = f"{value:+.2f} ({low:+.2f} to {high:+.2f})".replace("-", "\u2212")
    for doubling in doublings(evidence, side):
        part = value / doubling.per_point_pct
        if AS_EXPECTED[0] <= part <= AS_EXPECTED[1] and not low <= 0 <= high:
            why = (
                f"The bias changes by {seen} percentage points for each point of recorded left share, as it does when "
                f"the {side.value} doubles its {doubling.leg} leg."
            )
            return told(NAME, side, allowed=True, why=why, detail=f"{doubling.leg} leg doubled")
    why = (
        f"The bias changes by {seen} percentage points for each point of recorded left share; a doubled leg of the "
        f"{side.value} would make it 2, up or down."
    )
    return told(NAME, side, allowed=False, why=why)


def _by_size(evidence: Evidence, side: MeterSide) -> Story:
    if not evidence.differs:
        return told(NAME, side, allowed=False, why=NOTHING_TO_EXPLAIN)
    misfit = evidence.no_zero()
    gain = evidence.gain if evidence.gain_shown else evidence.bias
    if not evidence.gain_shown and misfit < EXCLUDED_BELOW:
        why = "A doubled leg is a gain; the ride shows no gain beside its zero beyond chance."
        return told(NAME, side, allowed=False, why=why, misfit=misfit)
    ratio = 1 + gain if side is MeterSide.UNIT else 1 / (1 + gain)
    share = ratio / 2
    if not SHARES[0] <= share <= SHARES[1]:
        why = f"One leg would have to give {100 * share:.0f} % of the power; riders give 40 to 60 %."
        return told(NAME, side, allowed=False, why=why)
    why = (
        f"No left share was recorded beside the {side.value}. A leg that gives {100 * share:.1f} % of the power, "
        f"doubled, would make {percent(gain, 2)}.{zero_left_over(evidence)}"
    )
    why = in_sentence(evidence, why)
    return told(NAME, side, allowed=True, why=why, detail=f"a leg with {100 * share:.1f} % of the power, doubled")
