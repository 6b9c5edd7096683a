"""A display that moves in coarse steps."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.agreement.stories.telling import told
from wattwitness.model.anatomy import MeterSide, Story

NAME = "quantisation"
LEAST_STEP_SHARE = 0.02
"""A step of less than this part of the ride's power disappears in the rider's own unsteadiness."""


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """By the step in which the unit's powers stand."""
    step, power = evidence.unit_step_w, evidence.typical_w
    if step is None:
        why = "The unit's powers stand on no step of 1 W or more."
        return (told(NAME, MeterSide.UNIT, allowed=False, why=why),)
    allowed = step >= LEAST_STEP_SHARE * power
    off = f"up to {step / 2:g} W, {50 * step / power:.1f} % of the ride's {power:.0f} W, from second to second"
    if allowed:
        why = f"The unit shows power in steps of {step:g} W: off by {off}, and by less than that on the whole."
    else:
        why = f"The unit shows power in steps of {step:g} W, too fine to matter: off by {off}."
    return (told(NAME, MeterSide.UNIT, allowed=allowed, why=why, detail=f"steps of {step:g} W" if allowed else ""),)
