"""What a bike's power should be at this cadence and resistance, told from the rest of its own ride.

The logarithm of power over the logarithm of cadence and the resistance as logged, monotone in both, with one slow
course along the ride (a brake that warms up) and, once found, steps that stayed. What the effort changes from second to
second is passed through the kernel by which power follows cadence, and quick changes weigh less in the fit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.faults.alone.follow import AT_ONCE, Following, follow
from wattwitness.faults.alone.monotone import Grid, SurfaceFit, fit_monotone
from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.running import running_range
from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats

LEAST_RPM = 25.0
"""Slower legs are not pedalling; cadence sensors lose them too."""

LEAST_W = 12.0
BLOCK_S = 3
MOST_BLOCKS = 6000
LEAST_BLOCKS = 100
MOST_CADENCES, MOST_LEVELS = 6, 10
LEAST_SPREAD = 0.04
"""Nodes over log cadence are at least so far apart."""

REACH_S = 6
UNSTEADY = 0.10
INFLATION = 6.0
COURSE_SD, STEP_SD = 0.08, 0.25
TAUS_MIN = (4.0, 8.0, 15.0)
KNOWN_SD = 0.04
"""Where the surface is known no better than this, relative, it foretells nothing."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surface:
    """``foretold_w`` (n,): NaN where the surface is not known or cadence is missing; ``sd`` (n,) how well it is known
    there, relative. ``scatter`` is the relative one of blocks of seconds; ``course_share`` the change along the whole
    ride, ``steps`` the sizes of the steps given (logarithm of
    power) and ``steps_sd`` how well they are known, ``known_share`` of the seconds pedalled those where it is known.
    """

    foretold_w: FloatArray
    sd: FloatArray
    scatter: float
    following: Following
    course_share: float
    steps: tuple[float, ...]
    steps_sd: tuple[float, ...]
    known_share: float

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("foretold_w", "sd"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Places:
    """Where each second lies on the surface: log cadence, level as a share of its range, and whether pedalled."""

    log_cadence: FloatArray
    level: FloatArray
    pedalled: BoolArray
    still: BoolArray


def fit_surface(
    ride: AloneRide,
    aside: BoolArray,
    steps_s: Sequence[float] = (),
    following: Following | None = None,
    *,
    course: bool = True,
) -> Surface | None:
    """Fit the surface over the seconds not ``aside`` (n,); ``None`` without cadence or with too little pedalling.

    Without a logged resistance it is a line over cadence alone. ``following``: taken as known, else found.
    Without ``course`` none is allowed along the ride.
    """
    places = _places(ride)
    if places is None:
        return None
    kept = places.pedalled & np.isfinite(ride.power_w) & ~aside
    with np.errstate(invalid="ignore"):
        tells = kept & (ride.power_w >= LEAST_W)
    if tells.sum() < BLOCK_S * LEAST_BLOCKS:
        return None
    grid = _grid(places, kept)
    shown = following or AT_ONCE
    settled = following is not None
    foretold, fit, sd, along = _fitted(ride, places, grid, kept, steps_s, shown, courses=settled and course)
    if not settled:
        shown = follow(foretold, ride.power_w, np.isfinite(foretold) & np.isfinite(ride.power_w) & ~aside)
        foretold, fit, sd, along = _fitted(ride, places, grid, kept, steps_s, shown, courses=course)
    through = shown.of(foretold)
    firm = sd < KNOWN_SD
    unknown = shown.of(np.where(places.pedalled & ~firm, 1.0, 0.0)) > 0.1
    pedalled = int(kept.sum())
    return Surface(
        foretold_w=np.where(unknown, np.nan, through),
        sd=np.nan_to_num(shown.of(np.where(places.pedalled, sd, np.nan)), nan=KNOWN_SD),
        scatter=fit.scatter,
        following=shown,
        course_share=along,
        steps=tuple(float(size) for size in fit.others[: len(steps_s)]),
        steps_sd=tuple(float(sd) for sd in np.sqrt(np.diag(fit.covariance)[grid.size : grid.size + len(steps_s)])),
        known_share=float((firm & kept).sum()) / max(pedalled, 1),
    )


def _places(ride: AloneRide) -> _Places | None:
    if ride.cadence_rpm is None:
        return None
    cadence = ride.cadence_rpm
    with np.errstate(invalid="ignore"):
        pedalled = cadence >= LEAST_RPM
        still = cadence < LEAST_RPM
    level = np.zeros(cadence.size)
    if ride.resistance is not None:
        pedalled &= np.isfinite(ride.resistance)
        low, high = np.nanmin(ride.resistance), np.nanmax(ride.resistance)
        level = (ride.resistance - low) / max(high - low, 1e-9)
    return _Places(
        log_cadence=np.log(np.where(pedalled, cadence, 80.0)),
        level=np.where(np.isfinite(level), level, 0.0),
        pedalled=pedalled,
        still=still,
    )


def _grid(places: _Places, kept: BoolArray) -> Grid:
    """Nodes where the ride has been: at quantiles, far enough apart."""
    cadence = places.log_cadence[kept]
    across = _apart(np.quantile(cadence, np.linspace(0.005, 0.995, MOST_CADENCES)), LEAST_SPREAD)
    level = places.level[kept]
    levels, counts = np.unique(np.round(level, 4), return_counts=True)
    if levels.size <= MOST_LEVELS:
        levels = levels[counts >= 10]
        along = levels if levels.size else np.array([float(np.median(level))])
    else:
        along = _apart(np.quantile(level, np.linspace(0.0, 1.0, MOST_LEVELS)), 0.02)
    return Grid(across=across, along=along)


def _apart(values: FloatArray, least: float) -> FloatArray:
    """Increasing values, those too near the one before left out, the last kept; two at least."""
    found = [float(values[0])]
    for value in values[1:]:
        if value - found[-1] >= least:
            found.append(float(value))
    last = float(values[-1])
    if len(found) == 1:
        return np.array([found[0] - least / 2, max(last, found[0]) + least / 2])
    return np.array(found)


def _fitted(
    ride: AloneRide,
    places: _Places,
    grid: Grid,
    kept: BoolArray,
    steps_s: Sequence[float],
    shown: Following,
    *,
    courses: bool,
) -> tuple[FloatArray, SurfaceFit, FloatArray, float]:
    """Prompt power of each second (n,), the fit, how well it is known (n,), and the course's change over the ride."""
    blocks = _Blocks.of(ride, places, kept, shown)
    columns = grid.columns(blocks.log_cadence, blocks.level)
    steps = [(blocks.at_s >= step_s).astype(np.float64) for step_s in steps_s]
    length_s = max(float(ride.time_s[-1]), 1.0)
    tried: list[float | None] = [None, np.inf, *TAUS_MIN] if courses else [None]
    best: tuple[SurfaceFit, float | None] | None = None
    for tau_min in tried:
        shapes = [*steps, *([] if tau_min is None else [_course(blocks.at_s, tau_min, length_s)])]
        beforehand = np.array([STEP_SD] * len(steps) + ([] if tau_min is None else [COURSE_SD]))
        others = np.column_stack(shapes) if shapes else np.zeros((blocks.at_s.size, 0))
        fit = fit_monotone(
            grid,
            columns,
            others,
            beforehand,
            blocks.log_power,
            blocks.weight,
            inflation=INFLATION,
            scatter=None if best is None else best[0].scatter,
        )
        if best is None or fit.loss < best[0].loss:
            best = (fit, tau_min)
    if best is None:
        raise ValueError("no course was tried")
    fit, tau_min = best
    every = grid.columns(places.log_cadence, places.level)
    log_w = every @ fit.nodes
    for step_s, size in zip(steps_s, fit.others, strict=False):
        log_w = log_w + size * (ride.time_s >= step_s)
    course = 0.0
    if tau_min is not None:
        along = fit.others[-1] * _course(ride.time_s, tau_min, length_s)
        log_w, course = log_w + along, float(along[-1] - along[0])
    cut = fit.covariance[: grid.size, : grid.size]
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", every, cut, every, optimize=True), 0.0))
    prompt = np.where(places.pedalled, np.exp(np.minimum(log_w, 8.5)), np.where(places.still, 0.0, np.nan))
    return prompt, fit, sd, course


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Blocks:
    """Means over blocks of a few seconds, (m,) each."""

    at_s: FloatArray
    log_cadence: FloatArray
    level: FloatArray
    log_power: FloatArray
    weight: FloatArray

    @classmethod
    def of(cls, ride: AloneRide, places: _Places, kept: BoolArray, shown: Following) -> _Blocks:
        """Cadence and level as the power shows them; unsteady and weak blocks weigh less."""
        log_cadence = shown.of(np.where(places.pedalled, places.log_cadence, np.nan))
        level = shown.of(np.where(places.pedalled, places.level, np.nan))
        pedalling = shown.of(places.pedalled.astype(np.float64)) > 0.98
        ok = kept & pedalling & np.isfinite(log_cadence) & np.isfinite(level)
        ok &= np.where(np.isfinite(ride.power_w), ride.power_w, 0.0) >= LEAST_W
        rough = 1.8 * places.log_cadence + 2.0 * places.level
        unsteady = running_range(np.where(places.pedalled, rough, 0.0), REACH_S)
        length = max(BLOCK_S, -(-ride.time_s.size // MOST_BLOCKS))
        block = np.arange(ride.time_s.size) // length
        count = np.bincount(block, ok)
        full = np.flatnonzero(count >= max(length / 2, 1))

        def mean(values: FloatArray) -> FloatArray:
            return np.asarray(np.bincount(block, np.where(ok, values, 0.0))[full] / count[full])

        power = mean(ride.power_w)
        weight = 1.0 / (1.0 + (mean(unsteady) / UNSTEADY) ** 2) * (power / (power + 15.0)) ** 2
        return cls(
            at_s=mean(ride.time_s),
            log_cadence=mean(log_cadence),
            level=mean(level),
            log_power=np.log(np.maximum(power, 1.0)),
            weight=weight,
        )


def _course(at_s: FloatArray, tau_min: float, length_s: float) -> FloatArray:
    """A straight line from 1 to 0 for an infinite time constant, else a settling from 1 towards 0."""
    if np.isinf(tau_min):
        return np.asarray(1.0 - at_s / length_s)
    return np.asarray(np.exp(-at_s / (60.0 * tau_min)))
