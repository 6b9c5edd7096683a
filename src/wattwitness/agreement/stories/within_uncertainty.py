"""Nothing is wrong: the difference is no more than the reference itself may be off by."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.agreement.stories.telling import chance, gain_words, percent, told
from wattwitness.model.anatomy import MeterSide, Story

NAME = "within_uncertainty"
LEAST = 0.05
"""The reference's uncertainty accounts for a difference that it would make this often."""


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """Allowed where the meters do not differ, or by no more than the reference's uncertainty of scale and zero."""
    uncertainty = percent(evidence.reference_uncertainty).lstrip("+")
    if not evidence.differs:
        why = f"The ride shows {gain_words(evidence)}, which chance alone would make: there is nothing to explain."
        return (told(NAME, MeterSide.EITHER, allowed=True, why=why, misfit=evidence.alone(0.0, 0.0)),)
    misfit = evidence.within_reference()
    if misfit >= LEAST:
        why = (
            f"The meters differ ({gain_words(evidence)}), but by no more than the reference, with a standard "
            f"uncertainty of {uncertainty}, may itself be off."
        )
    else:
        why = (
            f"The meters differ by {percent(evidence.bias)} at {evidence.typical_nm:.0f} N·m ({gain_words(evidence)}). "
            f"The reference's standard uncertainty, {uncertainty}, would make so much in {chance(misfit)} of cases."
        )
    return (told(NAME, MeterSide.EITHER, allowed=misfit >= LEAST, why=why, misfit=misfit),)
