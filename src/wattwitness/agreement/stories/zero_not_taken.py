"""A zero was not taken, or has moved since: a torque that is always added, whatever the effort."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, Evidence
from wattwitness.agreement.stories.telling import (
    NOTHING_TO_EXPLAIN,
    chance,
    in_sentence,
    newton_metres,
    percent,
    told,
    too_weakly_parted,
)
from wattwitness.model.anatomy import MeterSide, Story

NAME = "zero_not_taken"


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """Allowed where a zero is shown, or where a zero alone accounts for a difference that no gain is shown to make."""
    side = _side(evidence)
    misfit = evidence.zero_beside(evidence.reference_uncertainty)
    if not evidence.differs:
        return (told(NAME, side, allowed=False, why=NOTHING_TO_EXPLAIN),)
    if not evidence.cadence_known:
        why = "No cadence was recorded, so the torque is not known: a zero can neither be shown nor ruled out."
        return (told(NAME, side, allowed=True, why=in_sentence(evidence, why)),)
    if evidence.zero_shown:
        why = (
            f"The unit's torque is off by {newton_metres(evidence.zero_nm)} whatever the torque is: "
            f"{percent(evidence.zero_nm / evidence.typical_nm)} at the ride's {evidence.typical_nm:.0f} N·m."
        )
        detail, fits_alone = newton_metres(evidence.zero_nm), misfit >= EXCLUDED_BELOW
        if evidence.gain_shown and fits_alone:
            why += (
                f" The gain of {percent(evidence.gain, 2)} beside it is no more than the reference's scale may be off."
            )
        elif evidence.gain_shown:
            detail += f" beside a gain of {percent(evidence.gain, 2)}"
            why += (
                f" It does not explain the difference alone (chance {chance(misfit)}), only together with a gain of "
                f"{percent(evidence.gain, 2)}."
            )
        chance_alone = misfit if fits_alone else None
        return (told(NAME, side, allowed=True, why=in_sentence(evidence, why), misfit=chance_alone, detail=detail),)
    needed = evidence.bias * evidence.typical_nm
    alone = evidence.zero_beside(0.0)
    allowed = alone >= EXCLUDED_BELOW
    if allowed:
        why = (
            f"A zero alone, about {newton_metres(needed)} with no gain beside it, would account for the difference; "
            f"{too_weakly_parted(evidence).format(other='gain')}"
        )
    else:
        why = (
            f"To account for the difference the zero would have to be {newton_metres(needed)}, and the bias would then "
            f"grow as the torque falls; beside its gain the ride shows {newton_metres(evidence.zero_nm)}, "
            "which is none beyond chance."
        )
    return (told(NAME, side, allowed=allowed, why=in_sentence(evidence, why), misfit=alone),)


def _side(evidence: Evidence) -> MeterSide:
    """The meter left over where the other's zero is on record as taken."""
    if evidence.reference.zero_taken and not evidence.unit.zero_taken:
        return MeterSide.UNIT
    if evidence.unit.zero_taken and not evidence.reference.zero_taken:
        return MeterSide.REFERENCE
    return MeterSide.EITHER
