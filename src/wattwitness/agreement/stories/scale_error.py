"""One meter's scale is off by a constant share: the plain account, always beside those that say why."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, Evidence
from wattwitness.agreement.stories.telling import NOTHING_TO_EXPLAIN, newton_metres, percent, told
from wattwitness.model.anatomy import MeterSide, Story

NAME = "scale_error"


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """Allowed where a gain is shown, or where a gain alone accounts for the difference."""
    misfit = evidence.no_zero()
    if not evidence.differs:
        return (told(NAME, MeterSide.EITHER, allowed=False, why=NOTHING_TO_EXPLAIN, misfit=misfit),)
    if evidence.gain_shown:
        rest = ", beside a zero" if evidence.zero_shown else ""
        why = f"The unit is off by the same share, {percent(evidence.gain, 2)}, at any torque{rest}."
        return (told(NAME, MeterSide.EITHER, allowed=True, why=why, misfit=misfit, detail=percent(evidence.gain, 2)),)
    allowed = misfit >= EXCLUDED_BELOW
    if allowed:
        why = (
            f"A gain of about {percent(evidence.bias)} accounts for the difference; the ride does not vary the torque "
            "enough to tell it from a zero."
        )
    else:
        why = (
            f"What is left once a zero of {newton_metres(evidence.zero_nm)} is allowed for is no gain beyond chance, "
            "and a gain alone does not fit."
        )
    return (told(NAME, MeterSide.EITHER, allowed=allowed, why=why, misfit=misfit),)
