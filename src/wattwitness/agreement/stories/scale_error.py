"""One meter's scale is off by a constant share: the plain account, always beside those that say why."""

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

NAME = "scale_error"


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """Allowed where a gain is shown, or where a gain alone accounts for the difference.

    Beside a zero that is shown too it has no chance of its own: alone it does not fit, with the zero any difference
    does, and the words say so.
    """
    misfit = evidence.no_zero()
    if not evidence.differs:
        return (told(NAME, MeterSide.EITHER, allowed=False, why=NOTHING_TO_EXPLAIN),)
    if evidence.gain_shown:
        size = percent(evidence.gain, 2)
        if evidence.zero_shown:
            why = (
                f"A scale error alone does not explain the difference (chance {chance(misfit)}), only together with a "
                f"zero of {newton_metres(evidence.zero_nm)}: beside that the unit is off by {size} at any torque."
            )
            detail = f"{size} beside a zero of {newton_metres(evidence.zero_nm)}"
            return (told(NAME, MeterSide.EITHER, allowed=True, why=in_sentence(evidence, why), detail=detail),)
        why = in_sentence(evidence, f"The unit is off by the same share, {size}, at any torque.")
        return (told(NAME, MeterSide.EITHER, allowed=True, why=why, misfit=misfit, detail=size),)
    allowed = misfit >= EXCLUDED_BELOW
    if allowed:
        why = in_sentence(
            evidence,
            f"A gain alone, about {percent(evidence.bias, 2)} with no zero beside it, accounts for the difference; "
            f"{too_weakly_parted(evidence).format(other='zero')}",
        )
    else:
        why = (
            f"What is left once a zero of {newton_metres(evidence.zero_nm)} is allowed for is no gain beyond chance, "
            "and a gain alone does not fit."
        )
    return (told(NAME, MeterSide.EITHER, allowed=allowed, why=why, misfit=misfit),)
