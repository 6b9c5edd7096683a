"""The unit shows what it set out to hold, not what the legs did."""

from __future__ import annotations

from wattwitness.agreement.fluctuation import FOLLOWS
from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.agreement.stories.telling import told
from wattwitness.model.anatomy import MeterSide, Story

NAME = "target_shown"


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """By how much of the rider's unsteadiness the unit shows while the effort held; not told where it never did."""
    found = evidence.fluctuation
    if found is None:
        return ()
    rider = f"While the effort held the reference moved by {found.reference_pct:.1f} %"
    if not found.rider and found.followed < FOLLOWS:
        why = f"{rider}, no more than noise would: there was nothing of the legs for the unit to miss."
    elif found.too_smooth:
        why = (
            f"{rider} with the legs, and the unit shows {100 * max(found.followed, 0.0):.0f} % of that (at most "
            f"{100 * found.high:.0f} %): it follows the plan and not the legs."
        )
    else:
        why = f"{rider} and the unit went with it (by {100 * found.followed:.0f} %), so it measures."
    return (told(NAME, MeterSide.UNIT, allowed=found.too_smooth, why=why),)
