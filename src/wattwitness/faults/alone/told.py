"""Episodes of one recording: what was seen of a stretch, what the other channels say, and what may be made of it."""

from __future__ import annotations

import numpy as np

from wattwitness.faults.alone.asked import asked
from wattwitness.faults.alone.heart import Asked
from wattwitness.faults.alone.own import OwnStretch
from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.alone.search import Searched
from wattwitness.faults.alone.steps import OwnStep
from wattwitness.faults.detectors.easing import Fall
from wattwitness.faults.excursions import Excursion
from wattwitness.faults.measure import certainty_of, depth_of, energy_kj
from wattwitness.faults.witnesses.heard import TELLS, Heard
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, Witness
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile

END_S = 5
METER_OR_BRAKE = "One recording cannot tell whether the meter or the brake itself changed."


def of_surface(ride: AloneRide, searched: Searched, found: Excursion, heart: Asked, level: float) -> Episode:
    """A stretch that leaves the surface."""
    surface, residual = searched.surface, searched.residual
    unknown = float(np.mean(surface.sd[found.first : found.last]))
    depth = depth_of(residual, found, -(-surface.following.kernel.size // 2), level)
    if depth.value is not None and depth.high is not None:
        half = float(np.hypot(depth.high - depth.value, 100.0 * normal_quantile(level) * unknown))
        depth = Estimate(value=depth.value, low=depth.value - half, high=depth.value + half, unit="%", level=level)
    energy = energy_kj(surface.foretold_w, ride.power_w, found.first, found.last, found.sd, level)
    kind = EpisodeKind.DROP if found.depth < 0 else EpisodeKind.SURGE
    did = "fell" if kind is EpisodeKind.DROP else "rose"
    heard = heart(found.first, found.last)
    finding, reason = _with_heart(
        f"The number {did} where neither cadence nor resistance accounts for it."
        if ride.resistance is not None
        else f"The number {did} where cadence does not account for it, and came back to where it was.",
        METER_OR_BRAKE if ride.resistance is not None else "A resistance turned and turned back would look the same.",
        heard,
        did,
    )
    return Episode(
        kind=kind,
        start_s=float(found.first),
        end_s=float(found.last),
        depth_pct=depth,
        energy_kj=energy,
        energy_share_pct=_share(energy, ride),
        certainty=certainty_of(found.depth, found.sd, ride.time_s.size / 3600.0),
        finding=finding,
        reason=reason,
        witnesses=(*asked(ride, found.first, found.last, depth, level), *_witnesses(heard)),
        odds=_odds(heard),
        lasts=found.last >= ride.time_s.size - END_S,
        before_w=_before(ride.power_w, found.first),
        before_rpm=None if ride.cadence_rpm is None else _before(ride.cadence_rpm, found.first),
        heart=None if heard is None else heard.accounts,
    )


def of_step(ride: AloneRide, searched: Searched, step: OwnStep, level: float) -> Episode:
    """A step that stays to the end of the recording."""
    half = 100.0 * normal_quantile(level) * step.sd
    depth = Estimate(
        value=100.0 * step.size, low=100.0 * step.size - half, high=100.0 * step.size + half, unit="%", level=level
    )
    before_w = searched.surface.foretold_w / (1.0 + step.size)
    energy = energy_kj(before_w, ride.power_w, step.at, ride.time_s.size, step.sd, level)
    did = "fell" if step.size < 0 else "rose"
    return Episode(
        kind=EpisodeKind.STEP,
        start_s=float(step.at),
        end_s=float(ride.time_s[-1]),
        depth_pct=depth,
        energy_kj=energy,
        energy_share_pct=_share(energy, ride),
        certainty=certainty_of(step.size, step.sd, ride.time_s.size / 3600.0),
        finding=Finding.UNDETERMINED,
        reason=(f"The number {did} at once against cadence and resistance and stayed so. {METER_OR_BRAKE}"),
        lasts=True,
        before_w=_before(ride.power_w, step.at),
        before_rpm=None if ride.cadence_rpm is None else _before(ride.cadence_rpm, step.at),
    )


def of_plateau(ride: AloneRide, fall: Fall, heart: Asked, level: float) -> Episode:
    """A fall from a held level and back, where nothing logged foretells the power."""
    depth, energy = _fallen(ride, fall, level)
    heard = heart(fall.first, fall.last)
    freed = "at the same cadence " if ride.cadence_rpm is not None else ""
    doubt = (
        "The rider may have turned the resistance down and up again, or the number fell"
        if ride.cadence_rpm is not None
        else "The rider may have eased off, or the number fell"
    )
    finding, reason = _with_heart(
        f"Power fell {freed}from a level that was held, and came back to it.",
        f"{doubt}: this recording cannot tell which.",
        heard,
        "fell",
    )
    return _fall_episode(ride, fall, depth, energy, finding, reason, heard)


def of_rider(ride: AloneRide, fall: Fall, level: float, *, foretold: bool) -> Episode:
    """A fall of power, the rider's where it was ``foretold`` by the ride's own surface, or where cadence or the logged
    resistance fell with it; else it cannot be told.
    """
    depth, energy = _fallen(ride, fall, level)
    if foretold:
        what = "cadence" if ride.resistance is None else "cadence and the logged resistance"
        reason = f"The effort itself fell: {what} foretell as much."
        nothing = Estimate.missing("not_of_the_unit", "kJ", level)
        return _fall_episode(ride, fall, depth, nothing, Finding.RIDER, reason, None)
    fell = [
        name
        for name, values in (("cadence", ride.cadence_rpm), ("the logged resistance", ride.resistance))
        if values is not None and _fell(values, fall)
    ]
    if fell:
        reason = f"The effort itself fell: {' and '.join(fell)} fell with it."
        nothing = Estimate.missing("not_of_the_unit", "kJ", level)
        return _fall_episode(ride, fall, depth, nothing, Finding.RIDER, reason, None)
    logged = "nothing logged fell with it" if ride.resistance is not None else "cadence did not fall with it"
    reason = f"Power fell, and {logged}: the rider may have eased off or turned a resistance down, or the number fell."
    return _fall_episode(ride, fall, depth, energy, Finding.UNDETERMINED, reason, None)


FELL_SHARE = 0.25
"""Power goes with a power of cadence up to three, so cadence has to fall by this part of what power does, at least."""


def _fell(values: FloatArray, fall: Fall) -> bool:
    """Whether ``values`` (n,) fell within ``fall`` against the minute before by enough to account for it."""
    before, inside = values[max(fall.first - 60, 0) : fall.first], values[fall.first : fall.last]
    before, inside = before[np.isfinite(before)], inside[np.isfinite(inside)]
    if before.size < 10 or inside.size < 5:
        return False
    level = float(np.median(before))
    return level > 0 and float(np.median(inside)) / level - 1.0 <= FELL_SHARE * fall.change


def _fallen(ride: AloneRide, fall: Fall, level: float) -> tuple[Estimate, Estimate]:
    """Depth of a fall, and the energy that the record lost if the effort did not fall."""
    half = 100.0 * normal_quantile(level) * fall.sd
    value = 100.0 * fall.change
    depth = Estimate(value=value, low=max(value - half, -100.0), high=value + half, unit="%", level=level)
    held_w = ride.power_w / max(1.0 + fall.change, 0.05)
    return depth, energy_kj(held_w, ride.power_w, fall.first, fall.last, fall.sd, level)


def _fall_episode(
    ride: AloneRide, fall: Fall, depth: Estimate, energy: Estimate, finding: Finding, reason: str, heard: Heard | None
) -> Episode:
    return Episode(
        kind=EpisodeKind.DROP,
        start_s=float(fall.first),
        end_s=float(fall.last),
        depth_pct=depth,
        energy_kj=energy,
        energy_share_pct=_share(energy, ride),
        certainty=certainty_of(fall.change, fall.sd, ride.time_s.size / 3600.0),
        finding=finding,
        reason=reason,
        witnesses=(*asked(ride, fall.first, fall.last, None, depth.level), *_witnesses(heard)),
        odds=_odds(heard),
        before_w=_before(ride.power_w, fall.first),
        before_rpm=None if ride.cadence_rpm is None else _before(ride.cadence_rpm, fall.first),
        heart=None if heard is None else heard.accounts,
    )


def _with_heart(seen: str, doubt: str, heard: Heard | None, did: str) -> tuple[Finding, str]:
    """The finding and its reason: a heart that went with the number makes it the effort's own change."""
    if heard is not None and heard.witness.log_odds <= -TELLS:
        return Finding.RIDER, f"{seen} But heart rate {did} with it: the effort itself changed."
    if heard is not None and heard.witness.log_odds >= TELLS:
        return Finding.UNDETERMINED, f"{seen} Heart rate speaks against the number. {doubt}"
    return Finding.UNDETERMINED, f"{seen} {doubt}"


def _witnesses(heard: Heard | None) -> tuple[Witness, ...]:
    return () if heard is None else (heard.witness,)


def _odds(heard: Heard | None) -> float | None:
    """How many to one the heart is for an effort that did not change as the number did."""
    return None if heard is None else float(np.exp(heard.witness.log_odds))


SAID = {
    EpisodeKind.FROZEN: "One number stands for {length:.0f} s, far longer than the display's usual runs{moved}.",
    EpisodeKind.ZEROS: "It shows zero for {length:.0f} s while the cranks turn.",
    EpisodeKind.SPIKE: "It leaps to {shown:.0f} W for {length:.0f} s between seconds of {usual:.0f} W.",
    EpisodeKind.MISSING: "There is no sample for {length:.0f} s between seconds of riding, and no pause on record.",
}


def of_samples(ride: AloneRide, one: OwnStretch, foretold_w: FloatArray, level: float) -> Episode:
    """An episode that the samples show by themselves."""
    first = int(np.clip(round(one.start_s), 0, ride.time_s.size - 1))
    last = int(np.clip(round(one.end_s), first + 1, ride.time_s.size))
    usual = np.full(ride.time_s.size, np.nan if one.usual_w is None else one.usual_w)
    known = bool(np.isfinite(foretold_w[first:last]).mean() > 0.5)
    should_w = foretold_w if known else usual
    energy = energy_kj(should_w, ride.power_w, first, last, 0.1, level)
    depth = Estimate.missing("no_sample" if one.kind is EpisodeKind.MISSING else "one_number", "%", level)
    if one.shown_w is not None and one.usual_w is not None:
        change = 100.0 * (one.shown_w / max(one.usual_w, 25.0) - 1.0)
        depth = Estimate(value=change, low=change, high=change, unit="%", level=level)
    reason = SAID[one.kind].format(
        length=one.end_s - one.start_s,
        shown=one.shown_w or 0.0,
        usual=one.usual_w or 0.0,
        moved=", while cadence moved" if one.by_itself and ride.cadence_rpm is not None else "",
    )
    return Episode(
        kind=one.kind,
        start_s=one.start_s,
        end_s=one.end_s,
        depth_pct=depth,
        energy_kj=energy,
        energy_share_pct=_share(energy, ride),
        certainty=0.999,
        finding=Finding.UNIT if one.by_itself else Finding.UNDETERMINED,
        reason=reason,
        before_w=_before(ride.power_w, first),
        before_rpm=None if ride.cadence_rpm is None else _before(ride.cadence_rpm, first),
    )


def _share(energy: Estimate, ride: AloneRide) -> float | None:
    whole_kj = float(np.nansum(ride.power_w)) / 1000.0
    return None if energy.value is None or whole_kj <= 0 else 100.0 * energy.value / whole_kj


def _before(values: FloatArray, first: int) -> float | None:
    """Mean of the minute before, its last seconds left out."""
    cut = values[max(first - 60, 0) : max(first - 5, 0)]
    cut = cut[np.isfinite(cut)]
    return float(cut.mean()) if cut.size else None
