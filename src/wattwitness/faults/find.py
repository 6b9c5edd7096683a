"""Find every episode of one ride, weigh it, and say what the bias is without them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from wattwitness.agreement.common import common_stretch, percent, ratio_half_width
from wattwitness.clock.kernels import response_kernel
from wattwitness.faults.candidate import Candidate
from wattwitness.faults.detectors.registry import DETECTORS
from wattwitness.faults.finding import Weighed, prepare, weigh_prepared
from wattwitness.faults.masking import AT_FAULT, seconds_outside, seconds_within
from wattwitness.faults.measure import energy_kj
from wattwitness.faults.merging import bridged, merged
from wattwitness.faults.patterns import patterns
from wattwitness.faults.pedalling import pedalled_seconds
from wattwitness.faults.preceding import preceded
from wattwitness.faults.relation import fit_relation, ride_cadence
from wattwitness.faults.residual import residual_of
from wattwitness.faults.ride import RideForFaults
from wattwitness.faults.running import near
from wattwitness.faults.view import DetectorView
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import Episode, EpisodeKind, FaultsFound, Finding
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName
from wattwitness.model.settings import CompareSettings

ROUNDS = 4
BENDING = (EpisodeKind.SPIKE, EpisodeKind.FROZEN, EpisodeKind.ZEROS)
"""Faults of what is recorded that bend a response fitted over them."""

MEASURED_NOTHING = (EpisodeKind.ZEROS, EpisodeKind.FROZEN, EpisodeKind.MISSING)

JUMP_BESIDE_S = 90
"""So near a jump of the clock the two are not held against each other: its place is not known to the second."""

BESIDE_S = 2
"""Seconds beside an episode that the relation is not fitted to either."""


def find_faults(ride: RideForFaults, settings: CompareSettings) -> FaultsFound:
    """Every episode of ``ride`` in order of time, each weighed by its witnesses, and the bias without them."""
    view, candidates = find_candidates(ride, settings)
    outside = ~seconds_within(ride.time_s, (one for one in candidates if one.kind is not EpisodeKind.STEP))
    prepared = prepare(ride, outside) if candidates else None
    weighed = (_episode(view, one, weigh_prepared(prepared, one)) for one in candidates if prepared is not None)
    episodes = preceded(ride, tuple(weighed))
    lost = [one.energy_kj.value for one in episodes if one.finding in (Finding.UNIT, Finding.UNDETERMINED)]
    return FaultsFound(
        episodes=episodes,
        bias_without_pct=_bias_without(ride, episodes, settings.level),
        lost_kj=float(sum(value for value in lost if value is not None)),
        hours=view.hours,
        channels=_channels(ride),
        patterns=patterns(episodes, view.hours),
    )


def power_without_recorded_faults(
    ride: RideForFaults, settings: CompareSettings
) -> tuple[FloatArray, FloatArray] | None:
    """Both powers on the grid, reference and unit (n,), frozen, leaping and zero numbers missing; ``None`` without any.

    A response is read from how the two powers move together: a leap to what nobody rode, or one number for minutes,
    bends it, where a drop by a constant factor does not. Fit it again on these.
    """
    powers = [side[ChannelName.POWER] for side in (ride.pair.reference, ride.pair.unit)]
    if ride.recorded_unit.spot or ride.recorded_reference.spot:
        return None
    view = look_at(ride, settings)
    found = [one for name in BENDING for one in DETECTORS.get(name.value).find(view)]
    if not found:
        return None
    kept = []
    for side, power_w in zip((MeterSide.REFERENCE, MeterSide.UNIT), powers, strict=True):
        within = seconds_within(ride.time_s, (one for one in found if one.seen_in is side), margin_s=1.0)
        kept.append(np.where(within, np.nan, power_w))
    return kept[0], kept[1]


def find_candidates(ride: RideForFaults, settings: CompareSettings) -> tuple[DetectorView, tuple[Candidate, ...]]:
    """The stretches that the detectors point at, in order of time, and the ride as they last saw it."""
    cadence_rpm = ride_cadence(ride)
    view = _look(ride, settings, cadence_rpm, np.zeros(ride.time_s.size, dtype=bool), ())
    seen = view.residual.used
    if ride.recorded_unit.spot or ride.recorded_reference.spot:
        return view, ()
    fixed = merged([one for detector in DETECTORS if not detector.on_residual for one in detector.find(view)])
    taken = _taken(ride, fixed)
    steps: list[Candidate] = []
    found: list[Candidate] = []
    for _ in range(ROUNDS):
        view = _look(ride, settings, cadence_rpm, taken | _taken(ride, found), [one.start_s for one in steps])
        new_steps = DETECTORS.get(EpisodeKind.STEP.value).find(view) if len(steps) < 2 else ()
        if new_steps:
            steps += new_steps
            found = []
            continue
        new = [one for name in ("drop", "surge") for one in DETECTORS.get(name).find(view)]
        if not new:
            break
        found += new
    found = bridged(merged(found), seen)
    eased = [one for one in DETECTORS.get("easing").find(view) if not _seen_by_one(one, fixed)]
    ordered = sorted([*fixed, *steps, *found, *eased], key=lambda one: one.start_s)
    return view, tuple(ordered)


def _seen_by_one(eased: Candidate, fixed: Sequence[Candidate]) -> bool:
    """Whether for most of an easing off one meter measured nothing: it cannot have seen it, and those are its fault's
    moments already.
    """
    within = sum(
        max(min(eased.end_s, one.end_s) - max(eased.start_s, one.start_s), 0.0)
        for one in fixed
        if one.kind in MEASURED_NOTHING
    )
    return within > 0.5 * (eased.end_s - eased.start_s)


def look_at(ride: RideForFaults, settings: CompareSettings) -> DetectorView:
    """The ride as the detectors first see it, nothing taken out."""
    return _look(ride, settings, ride_cadence(ride), np.zeros(ride.time_s.size, dtype=bool), ())


def _look(
    ride: RideForFaults,
    settings: CompareSettings,
    cadence_rpm: FloatArray | None,
    taken: BoolArray,
    steps_s: Sequence[float],
) -> DetectorView:
    """Fit the relation without the seconds taken, and see what it leaves."""
    relation = fit_relation(ride, cadence_rpm, near(taken, BESIDE_S), steps_s)
    return DetectorView(
        ride=ride,
        settings=settings,
        cadence_rpm=cadence_rpm,
        relation=relation,
        residual=residual_of(ride, relation, taken, _unsure(ride)),
        taken=taken,
        pedalled=pedalled_seconds(ride),
        steps_s=tuple(steps_s),
    )


def _unsure(ride: RideForFaults) -> BoolArray:
    """Seconds in which the two cannot be held against each other: beside gaps that a response reaches over, and where
    a jump of the clock is not sure to be before or after.
    """
    unsure = np.zeros(ride.time_s.size, dtype=bool)
    for power_w, kernel in (
        (ride.pair.reference.get(ChannelName.POWER), response_kernel(ride.response.unit)),
        (ride.pair.unit.get(ChannelName.POWER), response_kernel(ride.response.reference)),
    ):
        if power_w is None or kernel.size < 2:
            continue
        gone = np.convolve(~np.isfinite(power_w), kernel)[: power_w.size]
        unsure |= gone > 0.2
    for jump in ride.clock.jumps:
        if jump.at_s.low is not None and jump.at_s.high is not None:
            step_s = max(jump.step_s.value or 0.0, 0.0)
            first = int(jump.at_s.low) - JUMP_BESIDE_S
            last = int(jump.at_s.high + step_s) + JUMP_BESIDE_S
            unsure[max(first, 0) : max(last, 0)] = True
    return unsure


def _taken(ride: RideForFaults, candidates: Iterable[Candidate]) -> BoolArray:
    """Seconds of candidates, and those into which a response carries them."""
    blur_s = response_kernel(ride.response.unit).size
    late_s = response_kernel(ride.response.reference).size
    taken = np.zeros(ride.time_s.size, dtype=bool)
    for one in candidates:
        carried = blur_s if one.seen_in is MeterSide.REFERENCE else late_s if one.seen_in is MeterSide.UNIT else 0
        first = max(round(one.start_s) - 1, 0)
        taken[first : max(round(one.end_s) + 1 + carried, first)] = True
    return taken


def _episode(view: DetectorView, candidate: Candidate, weighed: Weighed) -> Episode:
    energy = _energy(view, candidate, weighed.finding)
    whole_kj = float(np.nansum(view.relation.foretold_w)) / 1000.0
    before = slice(max(round(candidate.start_s) - 60, 0), max(round(candidate.start_s) - 5, 0))
    share = None if energy.value is None or whole_kj <= 0 else 100.0 * energy.value / whole_kj
    return Episode(
        kind=candidate.kind,
        start_s=candidate.start_s,
        end_s=candidate.end_s,
        depth_pct=candidate.depth_pct,
        energy_kj=energy,
        energy_share_pct=share,
        certainty=candidate.certainty,
        finding=weighed.finding,
        reason=weighed.reason,
        witnesses=weighed.witnesses,
        odds=weighed.odds,
        lasts=candidate.lasts,
        before_w=_mean(view.ride.expected_w[before]),
        before_rpm=None if view.cadence_rpm is None else _mean(view.cadence_rpm[before]),
        heart=weighed.heart,
    )


def _energy(view: DetectorView, candidate: Candidate, finding: Finding) -> Estimate:
    """What the unit's record lost: nothing of its own where the reference failed or the rider eased off."""
    level = view.settings.level
    if finding in (Finding.REFERENCE, Finding.RIDER):
        return Estimate.missing("not_of_the_unit", "kJ", level)
    size = view.ride.time_s.size
    first = int(np.clip(round(candidate.start_s), 0, size))
    last = int(np.clip(round(candidate.end_s), first, size))
    if last <= first:
        last = min(first + 1, size)
    foretold_w = view.relation.foretold_w
    if candidate.kind is EpisodeKind.STEP and candidate.depth_pct.value is not None:
        foretold_w = foretold_w / (1.0 + candidate.depth_pct.value / 100.0)
    sd = float(np.interp(np.log(max(last - first, 5)), np.log((5.0, 320.0)), view.residual.scale_sd[[0, -1]]))
    return energy_kj(foretold_w, view.ride.unit_w, first, last, sd, level)


def _mean(values: FloatArray) -> float | None:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else None


def _bias_without(ride: RideForFaults, episodes: Sequence[Episode], level: float) -> Estimate:
    outside = seconds_outside(ride.time_s, episodes, AT_FAULT)
    stretch = common_stretch(ride.expected_w, np.where(outside, ride.unit_w, np.nan))
    if stretch.lacks:
        return Estimate.missing(stretch.lacks, "%", level)
    return percent(stretch.ratio, ratio_half_width(stretch, stretch.fit, level), level)


def _channels(ride: RideForFaults) -> tuple[ChannelName, ...]:
    """Channels besides power that could be asked, of either recording."""
    return tuple(
        name for name in ChannelName if name is not ChannelName.POWER and any(True for _ in ride.channels(name))
    )
