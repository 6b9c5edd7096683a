"""What both meters did at the moment a departure begins and ends, held against the ride's ordinary changes of effort.

If the unit is at fault, the effort is what the reference shows, and it did at that moment what efforts mostly do:
nothing. If the reference is at fault, the effort is what the unit shows, and it leapt just when the reference failed.
How much likelier the one is than the other is read from how often efforts of this ride change so much in so few
seconds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.witnesses.ground import ADDED_W, Ground, RunningMeans, Stretch
from wattwitness.model.arrays import FloatArray, IntArray

LENGTHS_S = (4, 8, 16, 30)
"""Means over so many seconds before and after are compared; the length that tells most is taken."""

SEARCH_S = 6
"""An onset is dated to a few seconds; the departure is looked for this far around it."""

LEAST_WIDTH = 0.025
"""Kernel of the density of ordinary changes is at least this wide, in the logarithm of power."""

BROAD_SHARE, BROAD_SCALE = 0.1, 0.5
"""One change in ten may be of any size, whatever the rest of the ride shows."""

MOST_LOG_ODDS = 4.0
"""What one edge can say at most: 55 to 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """The change across one edge in the logarithm of power, by either meter, over means of ``length_s`` seconds.

    ``log_odds``: how much likelier the two are if the reference is right than if the unit is, natural logarithm.
    """

    at_s: int
    length_s: int
    by_reference: float
    by_unit: float
    log_odds: float

    @property
    def departure(self) -> float:
        """The unit's change beyond the reference's."""
        return self.by_unit - self.by_reference


def edges_of(ground: Ground, stretch: Stretch) -> tuple[Edge, ...]:
    """The onset, and the end where there is one, as far as both meters were there on both sides."""
    places = (stretch.first,) if stretch.open_end else (stretch.first, stretch.stop)
    found = (_edge(ground, place, stretch.seconds) for place in places)
    return tuple(edge for edge in found if edge is not None)


def _edge(ground: Ground, place: int, seconds: int) -> Edge | None:
    """The edge near ``place`` over the length that would tell most if only one of the meters had moved."""
    best: Edge | None = None
    most = -np.inf
    for length in LENGTHS_S:
        guard = max(min(ground.smear_s, (seconds - 2) // 3), 0)
        if best is not None and length + 2 * guard > seconds:
            break
        reach = min(SEARCH_S, max(seconds // 3, 1))
        at = np.arange(place - reach, place + reach + 1)
        by_reference, by_unit = (_steps(held, at, guard, length) for held in (ground.reference, ground.unit))
        apart = by_unit - by_reference
        if not np.isfinite(apart).any():
            continue
        chosen = int(np.nanargmax(np.abs(apart)))
        density = ordinary_changes(ground, guard, length)
        departure = float(apart[chosen])
        still, fallen, risen = (density.log_at(x) for x in (0.0, departure, -departure))
        tells = still - (fallen + risen) / 2
        if tells > most:
            most = tells
            moved = float(by_reference[chosen]), float(by_unit[chosen])
            odds = density.log_at(moved[0]) - density.log_at(moved[1])
            best = Edge(
                at_s=int(at[chosen]),
                length_s=length,
                by_reference=moved[0],
                by_unit=moved[1],
                log_odds=float(np.clip(odds, -MOST_LOG_ODDS, MOST_LOG_ODDS)),
            )
    return best


def _steps(held: RunningMeans, at: IntArray, guard: int, length: int) -> FloatArray:
    """Change of the logarithm of the mean across each second of ``at``, ``guard`` seconds left out on either side."""
    after = held.mean(at + guard, at + guard + length)
    before = held.mean(at - guard - length, at - guard)
    return np.log((after + ADDED_W) / (before + ADDED_W))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OrdinaryChanges:
    """Density of the changes of effort in this ride over one lag, from both meters: kernels and a broad remainder."""

    changes: FloatArray
    width: float

    def log_at(self, change: float) -> float:
        """Logarithm of the density at ``change``; the kernel is Student's t with three degrees of freedom."""
        broad = np.exp(-abs(change) / BROAD_SCALE) / (2 * BROAD_SCALE)
        if self.changes.size == 0:
            return float(np.log(broad))
        distance = (change - self.changes) / self.width
        kernel = 2.0 / (np.pi * np.sqrt(3.0) * (1.0 + distance * distance / 3.0) ** 2 * self.width)
        return float(np.log((1 - BROAD_SHARE) * kernel.mean() + BROAD_SHARE * broad))


def ordinary_changes(ground: Ground, guard: int, length: int) -> OrdinaryChanges:
    """Every change of the effort outside all candidates over means of ``length`` seconds ``2·guard`` apart."""
    at = np.arange(guard + length, ground.outside.size - guard - length)
    whole = 2 * (guard + length)
    kept = at[ground.ordinary.count(at - guard - length, at + guard + length) >= 0.9 * whole] if at.size else at
    changes = np.concatenate([_steps(held, kept, guard, length) for held in (ground.reference, ground.unit)])
    changes = changes[np.isfinite(changes)]
    if changes.size < 60:
        return OrdinaryChanges(changes=np.zeros(0), width=LEAST_WIDTH)
    middle = np.quantile(changes, [0.25, 0.75])
    width = max(0.3 * float(middle[1] - middle[0]), LEAST_WIDTH)
    return OrdinaryChanges(changes=changes, width=width)
