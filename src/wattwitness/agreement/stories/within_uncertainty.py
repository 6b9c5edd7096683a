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
        why = f"The ride shows {gain_words(evidence)}, which chance alone would make"
        faults = _beside(evidence)
        why = f"{why}. {faults}" if faults else f"{why}: there is nothing to explain."
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
    if misfit >= LEAST and (faults := _beside(evidence)):
        why = f"{why} {faults}"
    return (told(NAME, MeterSide.EITHER, allowed=misfit >= LEAST, why=why, misfit=misfit),)


def _beside(evidence: Evidence) -> str:
    """What the ride shows that no gain or zero within the uncertainty speaks for; empty where nothing is shown."""
    said = []
    if evidence.episodes:
        count = "the one episode" if evidence.episodes == 1 else f"the {evidence.episodes} episodes"
        verb = "was" if evidence.episodes == 1 else "were"
        said.append(f"That holds outside {count} found, which {verb} left out here and must be explained apart.")
    if evidence.fluctuation is not None and evidence.fluctuation.too_smooth:
        said.append("The unit follows the plan and not the legs, so that it agrees proves nothing.")
    slope = evidence.anatomy.per_left_point_pct
    if (
        slope.value is not None
        and slope.low is not None
        and slope.high is not None
        and not slope.low <= 0 <= slope.high
    ):
        said.append(
            f"But the bias goes with the left share, by {percent(slope.value / 100, 2)} points for each point of it, "
            "which this does not explain."
        )
    if evidence.changes:
        said.append("But the bias changes along the ride, which this does not explain.")
    return " ".join(said)
