"""Everything that one recording shows of itself: what its power is held against, and every episode."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.faults.alone.heart import heart_of
from wattwitness.faults.alone.own import own_stretches
from wattwitness.faults.alone.plateaus import plateau_falls, rider_falls
from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.alone.search import Searched, search
from wattwitness.faults.alone.told import of_plateau, of_rider, of_samples, of_step, of_surface
from wattwitness.faults.detectors.easing import Fall
from wattwitness.model.alone import AloneSeries, OwnSurface, Yardstick
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.episodes import Episode, Finding
from wattwitness.model.settings import AloneSettings

FOLLOWS_SD = 0.05
"""Means over 40 s have to lie this close to what is foretold (relative, robust) for it to foretell anything."""

FOLLOWS_AT = 3
NEAR_SHARE, NEAR_TIMES = 0.85, 2.5
ACCOUNTED = 0.35
"""Less than this share of a fall may be left for the surface to account for it."""


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
    taken = _seconds(ride, [(one.start_s, one.end_s) for one in own])
    searched, surface = _held_against(ride, taken, settings)
    if searched is not None:
        foretold_w, seen = searched.surface.foretold_w, _by_surface(ride, searched, taken, settings)
    else:
        foretold_w, seen = np.full(ride.time_s.size, np.nan), _by_plateaus(ride, taken, settings)
    episodes = sorted(
        [*seen, *(of_samples(ride, one, foretold_w, settings.level) for one in own)], key=lambda one: one.start_s
    )
    lost = [one.energy_kj.value for one in episodes if one.finding is not Finding.RIDER]
    return AloneFound(
        surface=surface,
        episodes=tuple(episodes),
        series=_series(ride, foretold_w, episodes),
        hours=float(np.isfinite(ride.power_w).sum()) / 3600.0,
        lost_kj=float(sum(value for value in lost if value is not None)),
    )


def _by_surface(ride: AloneRide, searched: Searched, taken: BoolArray, settings: AloneSettings) -> list[Episode]:
    """Stretches and steps that leave the surface, and the rider's own falls, which it accounts for."""
    stretches = [(one.first, one.last) for one in searched.found]
    heart = heart_of(ride, searched.surface.foretold_w, _seconds(ride, stretches) | taken)
    level = settings.level
    eased = [
        fall for fall in rider_falls(ride, taken, stretches) if _accounted(searched.surface.foretold_w, ride, fall)
    ]
    return [
        *(of_surface(ride, searched, one, heart, level) for one in searched.found),
        *(of_step(ride, searched, one, level) for one in searched.steps),
        *(of_rider(ride, fall, level, foretold=True) for fall in eased),
    ]


def _by_plateaus(ride: AloneRide, taken: BoolArray, settings: AloneSettings) -> list[Episode]:
    """Falls from a held level and back; those that cadence accounts for are the rider's."""
    falls = [
        fall
        for fall in plateau_falls(ride, taken)
        if -100.0 * fall.change >= settings.episode_depth_pct and fall.last - fall.first >= settings.episode_duration_s
    ]
    stretches = [(fall.first, fall.last) for fall in falls]
    foretold_w = np.full(ride.time_s.size, np.nan)
    for fall in falls:
        cut = slice(fall.first, fall.last)
        foretold_w[cut] = ride.power_w[cut] / max(1.0 + fall.change, 0.05)
    heart = heart_of(ride, foretold_w, _seconds(ride, stretches) | taken)
    level = settings.level
    eased = rider_falls(ride, taken, stretches) if ride.cadence_rpm is not None else []
    return [
        *(of_plateau(ride, fall, heart, level) for fall in falls),
        *(of_rider(ride, fall, level, foretold=False) for fall in eased),
    ]


def _accounted(foretold_w: FloatArray, ride: AloneRide, fall: Fall) -> bool:
    """Whether what is foretold fell with the number."""
    inside = foretold_w[fall.first : fall.last]
    shown = ride.power_w[fall.first : fall.last]
    both = np.isfinite(inside) & np.isfinite(shown)
    if both.sum() < 0.5 * both.size:
        return False
    return abs(float(shown[both].sum()) / max(float(inside[both].sum()), 1.0) - 1.0) < ACCOUNTED * abs(fall.change)


def _held_against(ride: AloneRide, taken: BoolArray, settings: AloneSettings) -> tuple[Searched | None, OwnSurface]:
    """The surface if power follows it, else the word that nothing foretells it."""
    if not np.isfinite(ride.power_w).any():
        return None, OwnSurface(yardstick=Yardstick.NOTHING, why="It holds no power.")
    if ride.cadence_rpm is None:
        return None, OwnSurface(
            yardstick=Yardstick.PLATEAUS,
            why="It holds no cadence: only levels that were held, and falls from them, could be looked at.",
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
        yardstick=Yardstick.PLATEAUS,
        why=f"Its power does not follow {what}: only levels that were held, and falls from them, could be looked at.",
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


def _seconds(ride: AloneRide, stretches: Sequence[tuple[float, float]]) -> BoolArray:
    """Seconds within any of the stretches, and next to them."""
    inside = np.zeros(ride.time_s.size, dtype=bool)
    for start_s, end_s in stretches:
        inside[max(round(start_s) - 1, 0) : round(end_s) + 2] = True
    return inside


def _series(ride: AloneRide, foretold_w: FloatArray, episodes: Sequence[Episode]) -> AloneSeries:
    empty = np.full(ride.time_s.size, np.nan)
    by_number, by_rest = empty.copy(), empty.copy()
    for episode in episodes:
        if episode.heart is not None:
            place = np.round(episode.heart.time_s).astype(np.int64)
            by_number[place] = episode.heart.if_unit_right_bpm
            by_rest[place] = episode.heart.if_reference_right_bpm
    return AloneSeries(
        time_s=ride.time_s,
        power_w=ride.power_w,
        foretold_w=foretold_w,
        cadence_rpm=empty if ride.cadence_rpm is None else ride.cadence_rpm,
        resistance=empty if ride.resistance is None else ride.resistance,
        heart_bpm=empty if ride.heart_bpm is None else ride.heart_bpm,
        heart_by_number_bpm=by_number,
        heart_by_rest_bpm=by_rest,
    )
