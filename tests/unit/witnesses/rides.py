"""Small made rides for the witnesses: one value a second, both meters on one grid, any channel left out at will."""

from __future__ import annotations

import numpy as np

from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Recording, Source
from wattwitness.model.response import Response, ResponseFit, ResponseKind

SECONDS = 2400
FROM_S, TO_S = 1270, 1420


def effort(seed: int = 1, seconds: int = SECONDS) -> FloatArray:
    """Four levels of power in turn, five minutes each, with the scatter of a rider."""
    generator = np.random.default_rng(seed)
    level = np.array([180.0, 230.0, 150.0, 200.0])[np.arange(seconds) // 300 % 4]
    return np.asarray(level * (1 + 0.05 * generator.standard_normal(seconds)))


def heart_of(power_w: FloatArray, seed: int = 2) -> FloatArray:
    """A heart of one time constant, 55 s, with a little scatter; whole bpm."""
    generator = np.random.default_rng(seed)
    state, beats = float(power_w[0]), np.empty(power_w.size)
    for second, power in enumerate(power_w):
        state += (power - state) / 55.0
        beats[second] = state
    return np.round(70 + 0.35 * beats + 0.8 * generator.standard_normal(power_w.size))


def ride_of(
    reference_w: FloatArray,
    unit_w: FloatArray,
    *,
    reference: dict[ChannelName, FloatArray] | None = None,
    unit: dict[ChannelName, FloatArray] | None = None,
) -> RideForFaults:
    """A ride whose meters respond at once."""
    time_s = np.arange(reference_w.size, dtype=np.float64)
    on_reference = {ChannelName.POWER: reference_w, **(reference or {})}
    on_unit = {ChannelName.POWER: unit_w, **(unit or {})}
    recorded = [
        Recording(
            source=Source(file_name=name, sha256="", size_bytes=0, format_name="made"),
            time_s=time_s,
            dated=False,
            channels=channels,
        )
        for name, channels in (("pedals", on_reference), ("bike", on_unit))
    ]
    none, exact = Estimate.missing("not_of_this_kind", "s"), Estimate(value=0.0, low=0.0, high=0.0, unit="s")
    prompt = Response(kind=ResponseKind.PROMPT, width_s=none, tau_s=none, delay_s=exact)
    return RideForFaults(
        pair=AlignedPair(time_s=time_s, reference=on_reference, unit=on_unit),
        expected_w=reference_w,
        unit_w=unit_w,
        response=ResponseFit(reference=prompt, unit=prompt),
        clock=clock_by_hand(recorded[1], 0.0),
        recorded_reference=recorded[0],
        recorded_unit=recorded[1],
        reference_name="pedals",
        unit_name="bike",
    )


def candidate_of(
    kind: EpisodeKind = EpisodeKind.DROP,
    *,
    start_s: float = FROM_S,
    end_s: float = TO_S,
    depth_pct: float = -30.0,
    seen_in: MeterSide = MeterSide.EITHER,
    rider: bool = False,
    lasts: bool = False,
) -> Candidate:
    """A candidate as a detector would point at it."""
    return Candidate(
        kind=kind,
        start_s=start_s,
        end_s=end_s,
        depth_pct=Estimate(value=depth_pct, low=depth_pct - 2, high=depth_pct + 2, unit="%"),
        certainty=0.999,
        seen_in=seen_in,
        rider=rider,
        lasts=lasts,
    )


def outside_of(candidate: Candidate, seconds: int = SECONDS) -> BoolArray:
    """All seconds but those of ``candidate``."""
    outside = np.ones(seconds, dtype=bool)
    outside[int(candidate.start_s) - 2 : int(candidate.end_s) + 2] = False
    return outside


def faulty(power_w: FloatArray, share: float = 0.7, from_s: int = FROM_S, to_s: int = TO_S) -> FloatArray:
    """``power_w`` times ``share`` in a stretch."""
    changed = power_w.copy()
    changed[from_s:to_s] *= share
    return changed


def noisy(power_w: FloatArray, seed: int, share: float = 0.01) -> FloatArray:
    """``power_w`` with white noise of a meter."""
    generator = np.random.default_rng(seed)
    return np.asarray(power_w * (1 + share * generator.standard_normal(power_w.size)))
