"""A change of the number against its own surface that comes within half a minute and stays to the end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.alone.surface import Surface, fit_surface
from wattwitness.faults.residual import SCALES_S, Residual, residual_between
from wattwitness.model.arrays import BoolArray, FloatArray

HELD_S, GUARD_S = 150, 15
LEAST_PART_S = 300
"""With less of the ride on one side of it, it is a drop or surge that lasts."""

LEAST_SIGMAS, PLACE_SIGMAS = 5.5, 3.0
STAYS_SHARE = 0.8
BIN_S = 30
GRID_S = 5
MOST_PLACES = 3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnStep:
    """A step at second ``at``: its ``size`` (after over before, less one), the standard deviation of that, and the
    surface fitted with it.
    """

    at: int
    size: float
    sd: float
    surface: Surface


def find_step(
    ride: AloneRide, surface: Surface, residual: Residual, aside: BoolArray, known_s: tuple[float, ...], *, depth: float
) -> OwnStep | None:
    """The clearest further step beside those at ``known_s``, or none."""
    used = np.flatnonzero(residual.used)
    if used.size < 2 * LEAST_PART_S:
        return None
    begins, ends = int(used[0]), int(used[-1]) + 1
    best: OwnStep | None = None
    for place in _places(residual, begins, ends, depth):
        tried = fit_surface(ride, aside, (*known_s, float(place)), following=surface.following)
        if tried is None:
            continue
        size, sd = float(np.expm1(tried.steps[-1])), _sd(ride, tried, aside)
        if abs(size) < depth or abs(size) < LEAST_SIGMAS * sd:
            continue
        at = _refined(ride, tried, place, size)
        if not _stays(ride, tried, aside, at, size, begins, ends):
            continue
        if best is None or abs(size) > abs(best.size):
            best = OwnStep(at=at, size=size, sd=sd, surface=tried)
    return best


def _places(residual: Residual, begins: int, ends: int, depth: float) -> list[int]:
    """Where the residual changes most from the minutes before to the minutes after."""
    at = np.arange(begins + LEAST_PART_S, ends - LEAST_PART_S + 1, GRID_S)
    if not at.size:
        return []
    size = residual.used.size
    before = residual.mean_and_sd(np.maximum(at - GUARD_S - HELD_S, 0), np.maximum(at - GUARD_S, 0))
    after = residual.mean_and_sd(np.minimum(at + GUARD_S, size), np.minimum(at + GUARD_S + HELD_S, size))
    known = np.isfinite(before[1]) & np.isfinite(after[1])
    if not known.any():
        return []
    # A step widens every scatter taken over the whole ride; changes elsewhere in the ride it leaves alone.
    change = np.where(known, np.abs(after[0] - before[0]), 0.0)
    usual = 1.4826 * float(np.median(change[known]))
    telling = np.where((change >= PLACE_SIGMAS * usual) & (change >= 0.7 * depth), change, 0.0)
    places: list[int] = []
    while len(places) < MOST_PLACES and telling.max() > 0:
        top = int(np.argmax(telling))
        places.append(int(at[top]))
        telling[np.abs(at - at[top]) < HELD_S] = 0.0
    return places


def _sd(ride: AloneRide, surface: Surface, aside: BoolArray) -> float:
    """Of the last step: how far two levels over ``HELD_S`` stray by chance, and how well the surface knows it."""
    used = np.isfinite(surface.foretold_w) & np.isfinite(ride.power_w) & ~aside
    left = residual_between(surface.foretold_w, ride.power_w, used, kernel_s=surface.following.kernel.size)
    chance = float(np.interp(np.log(HELD_S), np.log(SCALES_S), left.scale_sd)) * np.sqrt(2.0)
    return float(np.hypot(chance, surface.steps_sd[-1]))


def _left(ride: AloneRide, surface: Surface) -> tuple[FloatArray, FloatArray]:
    """What the surface with the step leaves of the power, and what it foretells, both 0 where not known."""
    known = np.isfinite(surface.foretold_w) & np.isfinite(ride.power_w)
    foretold = np.where(known, surface.foretold_w, 0.0)
    return np.where(known, ride.power_w - foretold, 0.0), foretold


def _refined(ride: AloneRide, surface: Surface, place: int, size: float) -> int:
    """The second of half height: where the sum of what lies beyond it changes its sign."""
    left, foretold = _left(ride, surface)
    first, last = max(place - 2 * GUARD_S - 30, 0), min(place + 2 * GUARD_S + 30, left.size)
    stepped = np.arange(first, last) >= place
    before_w = foretold[first:last] / np.where(stepped, 1.0 + size, 1.0)
    shown = left[first:last] + foretold[first:last]
    beyond = np.sign(size) * (shown - before_w * (1.0 + size / 2.0))
    return first + int(np.argmin(np.concatenate([[0.0], np.cumsum(beyond)])))


def _stays(ride: AloneRide, surface: Surface, aside: BoolArray, at: int, size: float, begins: int, ends: int) -> bool:
    """Whether on both sides, next to the edge and at the end, nearly all lies nearer to its own level."""
    left, foretold = _left(ride, surface)
    left, foretold = np.where(aside, 0.0, left), np.where(aside, 0.0, foretold)
    for first, last, sign, other in (
        (begins, at - GUARD_S, np.sign(size), abs(size)),
        (at + GUARD_S, ends, -np.sign(size), abs(size) / (1.0 + size)),
    ):
        starts = np.arange(first, last, BIN_S)
        if starts.size < 3:
            return False
        power = np.add.reduceat(foretold[:last], starts)
        tells = power > 12.0 * BIN_S
        if tells.sum() < 3:
            return False
        own = sign * np.add.reduceat(left[:last], starts)[tells] / power[tells] < 0.5 * other
        edge = own[-HELD_S // BIN_S :] if last <= at else own[: HELD_S // BIN_S]
        if min(own.mean(), edge.mean(), own[-HELD_S // BIN_S :].mean()) < STAYS_SHARE:
            return False
    return True
