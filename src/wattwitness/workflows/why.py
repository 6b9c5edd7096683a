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
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.response import ResponseFit
from wattwitness.model.setup import MeterFile


def why_of_pair(
    pair: AlignedPair,
    unit: Recording,
    response: ResponseFit,
    expected_w: FloatArray,
    compared_w: FloatArray,
    overall: OverallBias,
    *,
    level: float,
    reference_meter: MeterFile | None = None,
    unit_meter: MeterFile | None = None,
) -> WhyTheyDiffer:
    """Settling, anatomy and stories of one unit against the reference.

    ``expected_w`` and ``compared_w`` are the powers on the pair's grid with the response taken out; ``unit`` is the
    recording as read, whose power shows its steps. The descriptions of the meters may be left out.
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
        reference=facts_of(reference_meter),
        unit=facts_of(unit_meter),
    )
    return why_they_differ(ride, level=level)


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
