"""The unit's number changes within half a minute against what the reference foretells, and stays changed.

What creeps from one level to another is a settling or a drift and is left to that; what comes back is a drop or surge.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.candidate import Candidate
from wattwitness.faults.excursions import LEAST_SIGMAS
from wattwitness.faults.measure import certainty_of
from wattwitness.faults.relation import Relation, fit_relation
from wattwitness.faults.residual import Residual, residual_between
from wattwitness.faults.view import Detector, DetectorView
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import EpisodeKind
from wattwitness.model.estimate import Estimate
from wattwitness.stats.quantiles import normal_quantile

HELD_S = 150
"""Both levels hold at least so long next to the edge ..."""

GUARD_S = 15
"""... which takes at most twice this."""

LEAST_PART_S = 300
"""With less of the ride on one side of it, it is a drop or surge that lasts from the beginning or to the end."""

ABRUPT_SHARE = 0.75
"""So much of a step is over within the half minute of its edge."""

STAYS_SHARE = 0.8
"""So many of the half minutes on either side lie nearer to their own level than to the other's."""

BIN_S, END_S = 30, 150
MOST_PLACES = 3
GRID_S = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class _Edge:
    """A step at second ``at`` of relative ``size`` (after over before, less one) with its standard deviation."""

    at: int
    size: float
    sd: float


def find(view: DetectorView) -> tuple[Candidate, ...]:
    """The clearest step of the ride, or none; a second one shows once the first is in the relation."""
    used = np.flatnonzero(view.residual.used)
    if used.size < 2 * LEAST_PART_S:
        return ()
    begins, ends = int(used[0]), int(used[-1]) + 1
    edges = (_edge(view, place, begins, ends) for place in _places(view, begins, ends))
    held = [edge for edge in edges if edge is not None]
    if not held:
        return ()
    edge = max(held, key=lambda one: abs(one.size))
    half = 100.0 * normal_quantile(view.settings.level) * edge.sd
    value = 100.0 * edge.size
    return (
        Candidate(
            kind=EpisodeKind.STEP,
            start_s=max(edge.at - view.late_s, 0.0),
            end_s=float(ends),
            depth_pct=Estimate(value=value, low=value - half, high=value + half, unit="%", level=view.settings.level),
            certainty=certainty_of(edge.size, edge.sd, view.hours),
            lasts=True,
        ),
    )


def _places(view: DetectorView, begins: int, ends: int) -> list[int]:
    """Where the residual changes most from the minutes before to the minutes after, at most ``MOST_PLACES``."""
    at = np.arange(begins + LEAST_PART_S, ends - LEAST_PART_S + 1, GRID_S)
    if not at.size:
        return []
    change, sd = _change(view.residual, at)
    telling = np.where(np.isfinite(sd), np.abs(change), 0.0)
    telling[telling < 0.7 * view.settings.episode_depth_pct / 100.0] = 0.0
    places: list[int] = []
    while len(places) < MOST_PLACES and telling.max() > 0:
        top = int(np.argmax(telling))
        places.append(int(at[top]))
        telling[np.abs(at - at[top]) < HELD_S] = 0.0
    return places


def _change(residual: Residual, at: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Relative residual after less before each place, the edge itself left out, and its standard deviation."""
    size = residual.used.size
    before = residual.mean_and_sd(np.maximum(at - GUARD_S - HELD_S, 0), np.maximum(at - GUARD_S, 0))
    after = residual.mean_and_sd(np.minimum(at + GUARD_S, size), np.minimum(at + GUARD_S + HELD_S, size))
    return after[0] - before[0], np.hypot(before[1], after[1])


def _edge(view: DetectorView, place: int, begins: int, ends: int) -> _Edge | None:
    """The step at ``place`` refitted with the relation, if it is abrupt and stays."""
    relation = fit_relation(view.ride, view.cadence_rpm, view.taken, (*view.steps_s, float(place)))
    step = relation.steps[-1]
    depth = view.settings.episode_depth_pct / 100.0
    change, _ = _change(view.residual, np.array([place]))
    if abs(step) < 0.7 * depth or np.sign(step) * change[0] < max(ABRUPT_SHARE * abs(step), 0.7 * depth):
        return None
    at = _refined(view, relation, place, step)
    # How far such a change strays by chance shows only once the step itself is in the relation.
    foretold_w, used = relation.foretold_w, view.residual.used & np.isfinite(relation.foretold_w)
    left = residual_between(foretold_w, view.ride.unit_w, used, kernel_s=2 * view.blur_s, learnt_w=relation.learnt_w)
    _, sd = _change(left, np.array([at]))
    level = _level_before(view, relation, at)
    size = step / level
    if not np.isfinite(sd[0]) or abs(size) < depth or abs(size) < LEAST_SIGMAS * sd[0] / level:
        return None
    if not _stays(view, relation, at, step, begins, ends):
        return None
    return _Edge(at=at, size=size, sd=float(sd[0]) / level)


def _level_before(view: DetectorView, relation: Relation, at: int) -> float:
    """Unit over reference before the step, as foretold."""
    cut = slice(max(at - HELD_S - GUARD_S, 0), max(at - GUARD_S, 1))
    expected, foretold = view.ride.expected_w[cut], relation.foretold_w[cut]
    total = float(np.nansum(expected))
    return float(np.clip(np.nansum(foretold) / total, 0.2, 5.0)) if total > 0 else 1.0


def _left(view: DetectorView, relation: Relation) -> tuple[FloatArray, FloatArray]:
    """What the refitted relation leaves, and the reference's power, both 0 where not used."""
    used = view.residual.used & np.isfinite(relation.foretold_w)
    left = np.where(used, view.ride.unit_w - np.where(used, relation.foretold_w, 0.0), 0.0)
    return left, np.where(used, view.ride.expected_w, 0.0)


def _refined(view: DetectorView, relation: Relation, place: int, step: float) -> int:
    """The second of half height: where the sum of what lies beyond it changes its sign."""
    left, expected = _left(view, relation)
    first, last = max(place - 2 * GUARD_S - 30, 0), place + 2 * GUARD_S + 30
    stepped = np.arange(first, min(last, left.size)) >= place
    cut = slice(first, first + stepped.size)
    beyond = np.sign(step) * (left[cut] + step * expected[cut] * (stepped - 0.5))
    return first + int(np.argmin(np.concatenate([[0.0], np.cumsum(beyond)])))


def _stays(view: DetectorView, relation: Relation, at: int, step: float, begins: int, ends: int) -> bool:
    """Whether what the refitted relation leaves is near none on both sides and at the end, not a step away."""
    left, expected = _left(view, relation)
    for first, last, sign in ((begins, at - GUARD_S, 1.0), (at + GUARD_S, ends, -1.0)):
        starts = np.arange(first, last, BIN_S)
        power = np.add.reduceat(expected[:last], starts)
        away = sign * np.sign(step) * np.add.reduceat(left[:last], starts)
        tells = power > 25.0 * BIN_S * 0.5
        if tells.sum() < 3:
            return False
        own = away[tells] < 0.5 * abs(step) * power[tells]
        if min(own.mean(), own[-(END_S // BIN_S) :].mean(), own[: END_S // BIN_S].mean()) < STAYS_SHARE:
            return False
    return True


DETECTOR = Detector(
    name=EpisodeKind.STEP.value,
    says="The unit changes abruptly against its own relation to the reference and stays changed.",
    find=find,
    on_residual=True,
)
