"""How each display of an aligned pair follows the effort, read from numbers that somebody rode."""

from __future__ import annotations

import numpy as np

from wattwitness.clock.response import compared_unit_power, expected_power, fit_response
from wattwitness.faults.find import power_without_recorded_faults
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.response import ResponseFit
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.faults import ride_for_faults


def responses_of_pair(
    pair: AlignedPair, recorded: tuple[Recording, Recording], clock: ClockFit, settings: CompareSettings
) -> ResponseFit:
    """Fit the response; again without frozen, leaping and stray zero numbers, where either record holds any.

    Such numbers bend a response, and a response that is bent hides other faults. ``recorded`` are the reference and the
    unit as read.
    """
    reference_w, unit_w = pair.reference[ChannelName.POWER], pair.unit[ChannelName.POWER]
    first = _fit(pair, reference_w, unit_w, clock, settings)
    expected_w, compared_w = expected_power(reference_w, first), compared_unit_power(unit_w, first)
    if not bool(np.any(np.isfinite(expected_w) & np.isfinite(compared_w))):
        return first
    ridden = power_without_recorded_faults(
        ride_for_faults(pair, recorded, first, expected_w, compared_w, clock), settings
    )
    return first if ridden is None else _fit(pair, ridden[0], ridden[1], clock, settings)


def _fit(
    pair: AlignedPair, reference_w: FloatArray, unit_w: FloatArray, clock: ClockFit, settings: CompareSettings
) -> ResponseFit:
    return fit_response(
        reference_w,
        unit_w,
        clock_channel=clock.channel,
        level=settings.level,
        clock_uncertainty_s=0.0 if np.isnan(clock.standard_uncertainty_s) else clock.standard_uncertainty_s,
        reference_blend=pair.reference_blend,
        unit_blend=pair.unit_blend,
    )
