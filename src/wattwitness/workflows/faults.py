"""Episodes of one aligned pair, and the ride with them taken out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wattwitness.faults.find import find_faults
from wattwitness.faults.masking import AT_FAULT, seconds_within
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.agreement import OverallBias
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit
from wattwitness.model.comparison import NotAssessed
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound
from wattwitness.model.recording import Recording
from wattwitness.model.response import ResponseFit
from wattwitness.model.settings import CompareSettings
from wattwitness.workflows.summary import display_label

BESIDE_S = 5.0
"""Seconds on either side of an episode that are left out with it: its edges are known to no better."""


def faults_of_pair(
    pair: AlignedPair,
    recorded: tuple[Recording, Recording],
    response: ResponseFit,
    expected_w: FloatArray,
    compared_w: FloatArray,
    clock: ClockFit,
    settings: CompareSettings,
) -> FaultsFound | None:
    """Look for episodes; ``recorded`` are the reference and the unit as read.

    ``None`` for single readings of a display, which show nothing of the time between them.
    """
    if any(recording.spot for recording in recorded):
        return None
    return find_faults(ride_for_faults(pair, recorded, response, expected_w, compared_w, clock), settings)


def ride_for_faults(
    pair: AlignedPair,
    recorded: tuple[Recording, Recording],
    response: ResponseFit,
    expected_w: FloatArray,
    compared_w: FloatArray,
    clock: ClockFit,
) -> RideForFaults:
    """The pair as detectors and witnesses see it."""
    return RideForFaults(
        pair=pair,
        expected_w=expected_w,
        unit_w=compared_w,
        response=response,
        clock=clock,
        recorded_reference=recorded[0],
        recorded_unit=recorded[1],
        reference_name=display_label(recorded[0]),
        unit_name=display_label(recorded[1]),
    )


def faults_not(faults: FaultsFound | None) -> tuple[NotAssessed, ...]:
    """Why episodes could not be looked for."""
    if faults is not None:
        return ()
    why = "Single readings of a display show nothing of the time between them."
    return (NotAssessed(what="episodes", slug="spot_readings", why=why),)


def left_out(faults: FaultsFound | None) -> int:
    """How many episodes ``without_episodes`` takes out."""
    return 0 if faults is None else sum(episode.finding in AT_FAULT for episode in faults.episodes)


def usual_overall(overall: OverallBias, faults: FaultsFound | None) -> OverallBias:
    """The overall bias as it stands for the unit's usual behaviour: apart from episodes, where any were left out."""
    if faults is None or not left_out(faults) or not faults.bias_without_pct.assessed:
        return overall
    return replace(overall, bias_pct=faults.bias_without_pct)


def without_episodes(time_s: FloatArray, unit_w: FloatArray, faults: FaultsFound | None) -> FloatArray:
    """The unit's power (n,) as it would be without its episodes, for what is read from its usual behaviour.

    Seconds of an episode are missing. A step that stays is an episode and nothing that settles: what follows it is put
    back to the level before.
    """
    at_fault = [] if faults is None else [one for one in faults.episodes if one.finding in AT_FAULT]
    steps = [episode for episode in at_fault if episode.kind is EpisodeKind.STEP]
    passing = [episode for episode in at_fault if episode.kind is not EpisodeKind.STEP]
    usual_w = np.where(seconds_within(time_s, passing, margin_s=BESIDE_S), np.nan, unit_w)
    for step in steps:
        usual_w = _without_step(time_s, usual_w, step)
    return usual_w


def _without_step(time_s: FloatArray, unit_w: FloatArray, step: Episode) -> FloatArray:
    depth_pct = step.depth_pct.value
    if depth_pct is None or depth_pct <= -100.0:
        return unit_w
    put_back = np.where(time_s >= step.start_s, unit_w / (1 + depth_pct / 100), unit_w)
    return np.where(np.abs(time_s - step.start_s) <= BESIDE_S, np.nan, put_back)
