"""Why the unit differs: what the aligned recordings hold, handed to the rooms that find out."""

from __future__ import annotations

import numpy as np

from wattwitness.agreement.stories.facts import facts_of
from wattwitness.agreement.torque import compared_cadence
from wattwitness.agreement.why import RideForWhy, WhyTheyDiffer, why_they_differ
from wattwitness.model.agreement import OverallBias
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import FloatArray
from wattwitness.model.comparison import NotAssessed
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.response import ResponseFit
from wattwitness.model.setup import MeterFile

REASONS = {
    "no_cadence": "Neither recording holds a cadence that goes with the power, so the torque is not known.",
    "not_varied": "The torque stayed much the same through the ride, so a zero cannot be told from a gain.",
    "confounded": (
        "The bias changed along the ride while the power went the same way, so a zero or a gain cannot be told from a "
        "bias that settles."
    ),
    "too_short": "The two have too little riding in common.",
}


def why_of_pair(
    pair: AlignedPair,
    unit: Recording,
    response: ResponseFit,
    expected_w: FloatArray,
    compared_w: FloatArray,
    overall: OverallBias,
    *,
    meters: tuple[MeterFile | None, MeterFile | None],
    level: float,
    episodes: int = 0,
) -> WhyTheyDiffer:
    """Settling, anatomy and stories of one unit against the reference.

    ``expected_w`` and ``compared_w`` are the powers on the pair's grid with the response taken out; ``unit`` is the
    recording as read, whose power shows its steps. ``meters`` are their descriptions, reference and unit, or ``None``;
    ``episodes`` were left out of ``compared_w``.
    """
    side, share = _either(pair, ChannelName.LEFT_SHARE, MeterSide.REFERENCE)
    _, temperature = _either(pair, ChannelName.TEMPERATURE, MeterSide.UNIT)
    ride = RideForWhy(
        time_s=pair.time_s,
        reference_w=pair.reference[ChannelName.POWER],
        expected_w=expected_w,
        unit_w=compared_w,
        cadence_rpm=_cadence(pair, response, np.isfinite(expected_w) & np.isfinite(compared_w)),
        response=response,
        reference_uncertainty_pct=overall.reference_uncertainty_pct,
        overall_pct=overall.bias_pct,
        left_share_pct=share,
        left_share_of=side,
        temperature_c=temperature,
        recorded_unit_w=unit.channels.get(ChannelName.POWER),
        episodes=episodes,
        reference=facts_of(meters[0]),
        unit=facts_of(meters[1]),
    )
    return why_they_differ(ride, level=level)


def why_not(why: WhyTheyDiffer) -> tuple[NotAssessed, ...]:
    """The parts that could not be told, with their reasons."""
    missing = []
    slug = why.anatomy.zero_nm.not_assessed
    if slug is not None:
        reason = REASONS.get(slug, "The ride holds too little of it.")
        missing.append(NotAssessed(what="anatomy", slug=slug, why=reason))
    if why.settling.model is None:
        slug = why.settling.start_bias_pct.not_assessed or "too_short"
        reason = REASONS.get(slug, "The ride holds too little of it.")
        missing += [NotAssessed(what=what, slug=slug, why=reason) for what in ("stories", "settling")]
    return tuple(missing)


def _cadence(pair: AlignedPair, response: ResponseFit, both: np.ndarray) -> FloatArray:
    """The reference's cadence, else the unit's, as the powers are compared; all NaN where neither has any."""
    for channels, of_reference in ((pair.reference, True), (pair.unit, False)):
        cadence = channels.get(ChannelName.CADENCE)
        if cadence is not None and bool(np.any(np.isfinite(cadence) & both)):
            return compared_cadence(cadence, response, of_reference=of_reference)
    return np.full_like(pair.time_s, np.nan)


def _either(pair: AlignedPair, name: ChannelName, first: MeterSide) -> tuple[MeterSide | None, FloatArray | None]:
    """A channel of the side asked for first, else of the other, and whose it is."""
    sides = {MeterSide.REFERENCE: pair.reference, MeterSide.UNIT: pair.unit}
    for side in sorted(sides, key=lambda side: side is not first):
        values = sides[side].get(name)
        if values is not None and bool(np.any(np.isfinite(values))):
            return side, values
    return None, None
