"""Rides for the truth runs of findings: a fault of either meter, or a rider who eases off, at a known place.

Rides are the package's own simulated ones; their heart rate is replaced by that of ``hearts``, which the witness's
model does not hold. Candidates are made from the truth, their times a few seconds off, so that what is judged is the
finding alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tests.truth.hearts import beaten, drawn_heart
from wattwitness.clock.by_hand import clock_by_hand
from wattwitness.clock.grid import align
from wattwitness.clock.kernels import mean_lag_s
from wattwitness.clock.response import compared_unit_power, expected_power, fit_response
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.ride import RideForFaults
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.simulate.bike import ResistanceBike
from wattwitness.simulate.efforts import Ease, Effort, GroupRide, Intervals, Mixed, Steady, Steps
from wattwitness.simulate.faults import Fault, FaultKind
from wattwitness.simulate.meters import USUAL_CHANNELS, Display, Meter, Settling, exponential, mean_of
from wattwitness.simulate.ride import RideSpec, simulate_ride
from wattwitness.simulate.rider import Rider

Culprit = Literal["unit", "reference", "rider", "held", "overlap"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FindingRide:
    """A ride, its candidates, and the seconds outside them."""

    ride: RideForFaults
    candidates: tuple[Candidate, ...]
    outside: BoolArray


def finding_ride(
    seed: int,
    culprit: Culprit,
    kind: FaultKind,
    *,
    logged: bool = False,
    depth_pct: tuple[float, float] = (20.0, 50.0),
    length_s: tuple[float, float] = (60.0, 300.0),
) -> FindingRide:
    """Make one ride: ``logged`` on a bike with a set resistance that it logs. Depth and length are drawn between."""
    generator = np.random.default_rng([seed, 4411])
    duration_s = 3600.0
    start_s = float(generator.uniform(600, 2900))
    length = float(generator.uniform(*length_s))
    depth = float(generator.uniform(*depth_pct))
    logged = logged or culprit == "held"
    fault = Fault(
        kind=kind,
        start_s=start_s,
        duration_s=length,
        depth_pct=-depth if kind is not FaultKind.SURGE else depth,
        edge_s=float(generator.choice([0.0, 3.0, 8.0])),
    )
    eases = _eases(culprit, start_s, length, depth, generator)
    by_unit = (fault,) if culprit in ("unit", "overlap") else ()
    by_reference = (fault,) if culprit == "reference" else ()
    pedals, bike = _meters(generator, logged, by_reference, by_unit)
    spec = RideSpec(
        meters=(pedals, bike),
        effort=_effort(generator, culprit),
        rider=Rider(
            power_cv_pct=float(generator.uniform(4.0, 10.0)), cadence_sd_rpm=float(generator.uniform(1.4, 3.2))
        ),
        bike=ResistanceBike() if logged else None,
        eases=eases,
        duration_s=duration_s,
    )
    made = simulate_ride(spec, seed)
    pedals_recorded, bike_recorded = made.recordings
    ride = _on_one_grid(pedals_recorded, bike_recorded, made.truth.offset_s, made.truth.power_w, generator)
    late_s = mean_lag_s(ride.response.unit)
    candidates = _candidates(culprit, fault, eases, late_s, generator)
    outside = np.ones(ride.expected_w.size, dtype=bool)
    for candidate in candidates:
        outside[max(int(candidate.start_s) - 5, 0) : int(candidate.end_s) + 6] = False
    return FindingRide(ride=ride, candidates=candidates, outside=outside)


def _effort(generator: np.random.Generator, culprit: Culprit) -> Effort:
    if culprit == "held":
        return Steady(power_w=float(generator.uniform(150, 260)))
    efforts: tuple[Effort, ...] = (
        Steady(power_w=float(generator.uniform(140, 260))),
        Mixed(),
        GroupRide(mean_w=float(generator.uniform(150, 220))),
        Intervals(on_s=240.0, off_s=180.0, on_w=270.0, off_w=140.0, warm_up_s=400.0),
        Steps(step_s=240.0, step_w=30.0, start_w=120.0, steps=5),
    )
    return efforts[int(generator.integers(len(efforts)))]


def _eases(
    culprit: Culprit, start_s: float, length: float, depth: float, generator: np.random.Generator
) -> tuple[Ease, ...]:
    if culprit == "rider":
        slower = float(generator.choice([1.0, 0.95, 0.88]))
        return (Ease(start_s=start_s, duration_s=length, share=1 - depth / 100, cadence_share=slower),)
    if culprit == "held":
        bike, slower = ResistanceBike(), float(generator.uniform(0.70, 0.88))
        level, rpm = np.array([50.0]), np.array([85.0])
        share = float((bike.table_w(slower * rpm, level) / bike.table_w(rpm, level))[0])
        return (Ease(start_s=start_s, duration_s=length, share=share, cadence_share=slower),)
    if culprit == "overlap":
        before = float(generator.uniform(-0.7, 0.7)) * length
        return (Ease(start_s=start_s + before, duration_s=length, share=float(generator.uniform(0.6, 0.8))),)
    return ()


def _meters(
    generator: np.random.Generator, logged: bool, by_reference: tuple[Fault, ...], by_unit: tuple[Fault, ...]
) -> tuple[Meter, Meter]:
    displays: tuple[Display, ...] = (Display(), mean_of(3.0, delay_s=1.0), mean_of(8.0), exponential(4.0))
    settling = Settling(start_pct=float(generator.uniform(-7, 7)), tau_min=8.0) if generator.random() < 0.3 else None
    pedals = Meter(name="pedals", noise_pct=float(generator.uniform(0.9, 1.8)), faults=by_reference)
    bike = Meter(
        name="bike",
        gain=float(generator.uniform(0.93, 1.06)),
        zero_nm=float(generator.uniform(-1.0, 1.0)) if generator.random() < 0.3 else 0.0,
        noise_pct=float(generator.uniform(0.5, 1.5)),
        wander_pct=float(generator.uniform(0.0, 1.0)),
        wander_tau_s=float(generator.uniform(30, 120)),
        settling=settling,
        display=displays[int(generator.integers(len(displays)))],
        channels=(*USUAL_CHANNELS, ChannelName.RESISTANCE) if logged else USUAL_CHANNELS,
        faults=by_unit,
    )
    return pedals, bike


def _on_one_grid(
    reference: Recording, unit: Recording, offset_s: float, power_w: FloatArray, generator: np.random.Generator
) -> RideForFaults:
    clock = clock_by_hand(unit, offset_s)
    pair = align(reference, unit, clock)
    heart = beaten(drawn_heart(generator), power_w, generator)
    held = np.full(pair.time_s.size, np.nan)
    held[: min(heart.size, held.size)] = heart[: held.size]
    pair = AlignedPair(
        time_s=pair.time_s,
        reference={**pair.reference, ChannelName.HEART_RATE: held},
        unit={name: values for name, values in pair.unit.items() if name is not ChannelName.HEART_RATE},
        reference_blend=pair.reference_blend,
        unit_blend=pair.unit_blend,
    )
    by_reference, by_unit = pair.reference[ChannelName.POWER], pair.unit[ChannelName.POWER]
    fit = fit_response(by_reference, by_unit, clock_channel=ChannelName.CADENCE)
    return RideForFaults(
        pair=pair,
        expected_w=expected_power(by_reference, fit),
        unit_w=compared_unit_power(by_unit, fit),
        response=fit,
        clock=clock,
        recorded_reference=reference,
        recorded_unit=unit,
        reference_name="pedals",
        unit_name="bike",
    )


def _candidates(
    culprit: Culprit, fault: Fault, eases: tuple[Ease, ...], late_s: float, generator: np.random.Generator
) -> tuple[Candidate, ...]:
    made: list[Candidate] = []

    def candidate(kind: EpisodeKind, start_s: float, length: float, depth: float, **more: object) -> Candidate:
        off = generator.uniform(-3, 3, 2)
        return Candidate(
            kind=kind,
            start_s=start_s + late_s + float(off[0]),
            end_s=start_s + length + late_s + float(off[1]),
            depth_pct=Estimate(value=depth, low=depth - 3, high=depth + 3, unit="%"),
            certainty=0.999,
            **more,  # type: ignore[arg-type]
        )

    for ease in eases:
        made.append(candidate(EpisodeKind.DROP, ease.start_s, ease.duration_s, 100 * (ease.share - 1), rider=True))
    if culprit in ("unit", "reference", "overlap"):
        kinds = {
            FaultKind.DROP: EpisodeKind.DROP,
            FaultKind.SURGE: EpisodeKind.SURGE,
            FaultKind.FROZEN: EpisodeKind.FROZEN,
            FaultKind.MISSING: EpisodeKind.MISSING,
            FaultKind.ZERO: EpisodeKind.ZEROS,
        }
        kind, depth = kinds[fault.kind], fault.depth_pct
        own = fault.kind in (FaultKind.FROZEN, FaultKind.MISSING, FaultKind.ZERO)
        side = MeterSide.REFERENCE if culprit == "reference" else MeterSide.UNIT
        if culprit == "reference" and not own:
            depth = 100 * (1 / (1 + depth / 100) - 1)
            kind = EpisodeKind.SURGE if depth > 0 else EpisodeKind.DROP
        made.append(candidate(kind, fault.start_s, fault.duration_s, depth, seen_in=side if own else MeterSide.EITHER))
    return tuple(made)
