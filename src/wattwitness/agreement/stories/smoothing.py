"""A display that averages: off from second to second, not on the whole."""

from __future__ import annotations

from wattwitness.agreement.stories.evidence import Evidence
from wattwitness.agreement.stories.telling import told
from wattwitness.model.anatomy import MeterSide, Story
from wattwitness.model.response import Response, ResponseKind

NAME = "smoothing"
LEAST_WIDTH_S = 1.5
LEAST_TAU_S = 0.7
"""A display that shows less than this mean follows the effort as well as any: every meter averages one second."""


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """By the fitted responses; not told where they were not assessed."""
    if evidence.response.unit.kind is ResponseKind.NOT_ASSESSED:
        return ()
    smooth = [
        (side, words)
        for side, response in (
            (MeterSide.UNIT, evidence.response.unit),
            (MeterSide.REFERENCE, evidence.response.reference),
        )
        if (words := _smooths(response))
    ]
    if not smooth:
        why = "Neither meter averages more than the other beyond a second."
        return (told(NAME, MeterSide.EITHER, allowed=False, why=why),)
    return tuple(
        told(
            NAME,
            side,
            allowed=True,
            why=f"The {side.value} shows {words}. That makes it differ from second to second and at peaks; it is taken "
            "out before anything else is judged, and makes no bias of the whole ride.",
            detail=words,
        )
        for side, words in smooth
    )


def _smooths(response: Response) -> str:
    """``an 8 s mean``; empty where the display is as good as prompt."""
    width, tau = response.width_s, response.tau_s
    if response.kind is ResponseKind.MEAN and width.value is not None and (width.low or 0.0) > LEAST_WIDTH_S:
        return f"about the mean of {width.value:.0f} s"
    if response.kind is ResponseKind.EXPONENTIAL and tau.value is not None and (tau.low or 0.0) > LEAST_TAU_S:
        return f"about a mean that fades with {tau.value:.1f} s"
    return ""
