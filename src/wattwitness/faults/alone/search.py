"""Find the stretches where the number leaves its own surface, and fit the surface again without them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.faults.alone.ride import AloneRide
from wattwitness.faults.alone.steps import OwnStep, find_step
from wattwitness.faults.alone.surface import Surface, fit_surface
from wattwitness.faults.excursions import Excursion, excursions
from wattwitness.faults.residual import Residual, residual_between
from wattwitness.model.arrays import BoolArray

ROUNDS = 4
MOST_STEPS = 2
LEAST_SIGMAS = 5.5
"""How far beyond chance a stretch stands, what the surface is not known by included."""

GUARD_S = 3
"""Seconds on either side of a found stretch that the refit leaves out too."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Searched:
    """The last surface, what it leaves of the power over all seconds, and the stretches and steps found, each in order
    of time.
    """

    surface: Surface
    residual: Residual
    found: tuple[Excursion, ...]
    steps: tuple[OwnStep, ...]


def search(ride: AloneRide, taken: BoolArray, *, depth: float, duration_s: float) -> Searched | None:
    """Stretches that leave the surface by ``depth`` (a share) for ``duration_s``; ``taken`` (n,) seconds are left out.

    ``None`` where there is no surface: no cadence, or too little pedalling.
    """
    surface = fit_surface(ride, taken)
    if surface is None:
        return None
    steps: list[OwnStep] = []
    while len(steps) < MOST_STEPS:
        known_s = tuple(float(step.at) for step in steps)
        # A slow course takes most of a step upon itself: places are looked for on what is left without one.
        plain = fit_surface(ride, taken, known_s, following=surface.following, course=False)
        if plain is None:
            break
        step = find_step(ride, plain, _residual(ride, plain, taken), taken, known_s, depth=depth)
        if step is None:
            break
        steps.append(step)
        surface = step.surface
    return _stretches(ride, taken, surface, steps, depth, duration_s)


def _stretches(
    ride: AloneRide, taken: BoolArray, surface: Surface, steps: list[OwnStep], depth: float, duration_s: float
) -> Searched:
    """Rounds of finding stretches and fitting without them."""
    found: tuple[Excursion, ...] = ()
    residual = _residual(ride, surface, taken)
    steps_s = [float(step.at) for step in steps]
    for _ in range(ROUNDS):
        again = _found(residual, surface, depth, duration_s)
        if _alike(again, found):
            break
        found = again
        aside = taken.copy()
        for item in found:
            aside[max(item.first - GUARD_S, 0) : item.last + GUARD_S] = True
        refitted = fit_surface(ride, aside, steps_s, following=surface.following)
        if refitted is None:
            break
        surface = refitted
        residual = _residual(ride, surface, taken)
    ordered = tuple(sorted(steps, key=lambda step: step.at))
    return Searched(surface=surface, residual=residual, found=found, steps=ordered)


def _residual(ride: AloneRide, surface: Surface, taken: BoolArray) -> Residual:
    used = np.isfinite(surface.foretold_w) & np.isfinite(ride.power_w) & ~taken
    return residual_between(surface.foretold_w, ride.power_w, used, kernel_s=surface.following.kernel.size)


def _found(residual: Residual, surface: Surface, depth: float, duration_s: float) -> tuple[Excursion, ...]:
    both = [
        widened
        for sign in (-1, 1)
        for item in excursions(residual, sign, depth=depth, duration_s=duration_s)
        if abs((widened := _widened(item, surface)).depth) >= LEAST_SIGMAS * widened.sd
    ]
    return tuple(sorted(both, key=lambda item: item.first))


def _widened(found: Excursion, surface: Surface) -> Excursion:
    """The stretch with what the surface itself is not known by, and a display that follows not quite as fitted."""
    unknown = float(np.mean(surface.sd[found.first : found.last]))
    return replace(found, sd=float(np.hypot(found.sd, unknown)))


def _alike(some: tuple[Excursion, ...], others: tuple[Excursion, ...]) -> bool:
    return [(item.first, item.last) for item in some] == [(item.first, item.last) for item in others]
