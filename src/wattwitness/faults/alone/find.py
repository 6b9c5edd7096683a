"""Everything that one recording shows of itself: what its power is held against, and every episode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.faults.alone.asked import asked
from wattwitness.faults.alone.own import OwnStretch, own_stretches
from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.alone.search import Searched, search
from wattwitness.faults.excursions import Excursion
from wattwitness.faults.measure import certainty_of, depth_of, energy_kj
from wattwitness.model.alone import AloneSeries, OwnSurface, Yardstick
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import Episode, EpisodeKind, Finding
from wattwitness.model.estimate import Estimate
from wattwitness.model.settings import AloneSettings
from wattwitness.stats.quantiles import normal_quantile

FOLLOWS_SD = 0.05
"""Means over 40 s have to lie this close to what is foretold (relative, robust) for it to foretell anything."""

FOLLOWS_AT = 3
NEAR_SHARE, NEAR_TIMES = 0.85, 2.5
END_S = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AloneFound:
    """What the power was held against, the episodes in order of time, the series, and the hours looked at."""

    surface: OwnSurface
    episodes: tuple[Episode, ...]
    series: AloneSeries
    hours: float
    lost_kj: float


def find_alone(ride: AloneRide, settings: AloneSettings) -> AloneFound:
    """Look at one recording by itself."""
    own = own_stretches(ride, settings)
    taken = _seconds(ride, own)
    held = _held_against(ride, taken, settings)
    searched, surface = held
    foretold_w = np.full(ride.time_s.size, np.nan) if searched is None else searched.surface.foretold_w
    episodes = [_of_samples(ride, one, foretold_w, settings.level) for one in own]
    if searched is not None:
        episodes += [_of_surface(ride, searched, one, settings.level) for one in searched.found]
    ordered = tuple(sorted(episodes, key=lambda one: one.start_s))
    lost = [one.energy_kj.value for one in ordered if one.finding is not Finding.RIDER]
    return AloneFound(
        surface=surface,
        episodes=ordered,
        series=_series(ride, foretold_w),
        hours=float(np.isfinite(ride.power_w).sum()) / 3600.0,
        lost_kj=float(sum(value for value in lost if value is not None)),
    )


def _held_against(ride: AloneRide, taken: BoolArray, settings: AloneSettings) -> tuple[Searched | None, OwnSurface]:
    """The surface if power follows it, else the word that nothing foretells it."""
    if not np.isfinite(ride.power_w).any():
        return None, OwnSurface(yardstick=Yardstick.NOTHING, why="It holds no power.")
    if ride.cadence_rpm is None:
        return None, OwnSurface(
            yardstick=Yardstick.NOTHING,
            why="It holds no cadence, so nothing in it foretells what its power should be.",
        )
    searched = search(ride, taken, depth=settings.episode_depth_pct / 100.0, duration_s=settings.episode_duration_s)
    if searched is None:
        return None, OwnSurface(
            yardstick=Yardstick.NOTHING,
            why="Too few seconds of pedalling for a surface: it takes about five minutes outside faults.",
        )
    logged = ride.resistance is not None
    described = _described(ride, searched)
    if _follows(searched):
        return searched, described
    what = "cadence and the resistance as logged" if logged else "cadence alone, and no resistance was logged"
    return None, OwnSurface(
        yardstick=Yardstick.NOTHING,
        why=f"Its power does not follow {what}: nothing in it foretells what its power should be.",
        scatter_pct=described.scatter_pct,
    )


def _follows(searched: Searched) -> bool:
    """Whether means over 40 s lie near what is foretold, all but a few."""
    residual = searched.residual
    spread = float(residual.scale_sd[FOLLOWS_AT])
    if spread > FOLLOWS_SD or searched.surface.known_share < 0.5:
        return False
    first = np.arange(0, max(residual.used.size - 40, 1), 20)
    mean, sd = residual.mean_and_sd(first, np.minimum(first + 40, residual.used.size))
    tells = np.isfinite(sd)
    near = np.abs(mean[tells]) < NEAR_TIMES * max(spread, 0.03)
    return bool(tells.sum() >= 10) and float(near.mean()) >= NEAR_SHARE


def _described(ride: AloneRide, searched: Searched) -> OwnSurface:
    fitted = searched.surface
    cadence = np.full(1, np.nan) if ride.cadence_rpm is None else ride.cadence_rpm
    with np.errstate(invalid="ignore"):
        ridden = cadence[cadence >= 25.0]
    low, high = np.quantile(ridden, [0.02, 0.98]) if ridden.size else (np.nan, np.nan)
    logged = ride.resistance is not None
    levels = None
    if ride.resistance is not None:
        levels = int(np.unique(ride.resistance[np.isfinite(ride.resistance)]).size)
    held = levels == 1
    if logged and not held:
        why = "Its power was held against its own surface over cadence and the resistance as logged."
    elif held:
        why = "The logged resistance never changed: its power was held against its own line over cadence."
    else:
        why = "No resistance was logged, but power follows cadence, as on a resistance that is set once and held."
    return OwnSurface(
        yardstick=Yardstick.CADENCE_AND_RESISTANCE if logged else Yardstick.CADENCE,
        why=why,
        scatter_pct=100.0 * float(searched.residual.scale_sd[FOLLOWS_AT]),
        known_pct=100.0 * fitted.known_share,
        lag_s=fitted.following.lag_s,
        course_pct=100.0 * float(np.expm1(fitted.course_share)),
        low_rpm=float(low),
        high_rpm=float(high),
        levels=levels,
    )


def _of_surface(ride: AloneRide, searched: Searched, found: Excursion, level: float) -> Episode:
    """An episode from a stretch that leaves the surface."""
    surface, residual = searched.surface, searched.residual
    unknown = float(np.mean(surface.sd[found.first : found.last]))
    depth = depth_of(residual, found, -(-surface.following.kernel.size // 2), level)
    if depth.value is not None and depth.high is not None:
        half = float(np.hypot(depth.high - depth.value, 100.0 * normal_quantile(level) * unknown))
        depth = Estimate(value=depth.value, low=depth.value - half, high=depth.value + half, unit="%", level=level)
    energy = energy_kj(surface.foretold_w, ride.power_w, found.first, found.last, found.sd, level)
    kind = EpisodeKind.DROP if found.depth < 0 else EpisodeKind.SURGE
    witnesses = asked(ride, found.first, found.last, depth, level)
    did = "fell" if kind is EpisodeKind.DROP else "rose"
    return Episode(
        kind=kind,
        start_s=float(found.first),
        end_s=float(found.last),
        depth_pct=depth,
        energy_kj=energy,
        energy_share_pct=_share(energy, ride),
        certainty=certainty_of(found.depth, found.sd, ride.time_s.size / 3600.0),
        finding=Finding.UNDETERMINED,
        reason=(
            f"The number {did} where neither cadence nor resistance accounts for it. "
            "One recording cannot tell whether the meter or the brake itself changed."
        ),
        witnesses=witnesses,
        lasts=found.last >= ride.time_s.size - END_S,
        before_w=_before(ride.power_w, found.first),
        before_rpm=None if ride.cadence_rpm is None else _before(ride.cadence_rpm, found.first),
    )


SAID = {
    EpisodeKind.FROZEN: "One number stands for {length:.0f} s, far longer than the display's usual runs{moved}.",
    EpisodeKind.ZEROS: "It shows zero for {length:.0f} s while the cranks turn.",
    EpisodeKind.SPIKE: "It leaps to {shown:.0f} W for {length:.0f} s between seconds of {usual:.0f} W.",
    EpisodeKind.MISSING: "There is no sample for {length:.0f} s between seconds of riding, and no pause on record.",
}


def _of_samples(ride: AloneRide, one: OwnStretch, foretold_w: FloatArray, level: float) -> Episode:
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


def _seconds(ride: AloneRide, own: Sequence[OwnStretch]) -> BoolArray:
    taken = np.zeros(ride.time_s.size, dtype=bool)
    for one in own:
        taken[max(round(one.start_s) - 1, 0) : round(one.end_s) + 2] = True
    return taken


def _series(ride: AloneRide, foretold_w: FloatArray) -> AloneSeries:
    empty = np.full(ride.time_s.size, np.nan)
    return AloneSeries(
        time_s=ride.time_s,
        power_w=ride.power_w,
        foretold_w=foretold_w,
        cadence_rpm=empty if ride.cadence_rpm is None else ride.cadence_rpm,
        resistance=empty if ride.resistance is None else ride.resistance,
        heart_bpm=empty if ride.heart_bpm is None else ride.heart_bpm,
        heart_foretold_bpm=empty,
    )
