"""Whether the unit shows the rider's own unsteadiness, or a number smoother than any legs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.common import common_stretch
from wattwitness.agreement.efforts import surging
from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.stats.quantiles import normal_quantile

LEAST_SECONDS = 300
SCALES_S = ((5, 60), (15, 120))
"""Means over the first, in pieces of the second, each less its own straight line: what a display of a few seconds would
show of the rider, and what even one of half a minute must. Medians over pieces, so that the few pieces in which the
plan moved do not count."""

LEAST_PIECES = 5
STEP_S = 30
STEP_SHARE = 0.08
"""A rider who holds a power moves from one half minute to the next by less than this, most of the time."""

LATE_S = (0, 10, 20)
FOLLOWS = 0.3
"""A display that shows less than this part of the rider's unsteadiness on every scale does not measure it."""

SMOOTHER = 0.4
"""Its own unsteadiness must be under this part of the reference's too: one unsteady for itself errs in another way."""

LEVEL = 0.99
RIDER_LAGS_S = (1, 2)
"""Seconds over which a rider's unsteadiness goes on; the noise of a meter that is read every second does not."""

LEAST_RIDER_PCT = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fluctuation:
    """How much of the reference's unsteadiness while the effort held the unit shows: ``followed`` (0 none, 1 all) on
    the scale that follows best, with the highest end of the 99 % intervals of all, ``ratio`` of the two standard
    deviations there, and the reference's own, ``reference_pct`` of its power. ``rider`` says that this is the legs'
    and not only noise.
    """

    seconds: int
    followed: float
    high: float
    ratio: float
    reference_pct: float
    rider: bool

    @property
    def too_smooth(self) -> bool:
        """Whether the unit does not show the legs at all."""
        moves = self.rider and self.reference_pct > LEAST_RIDER_PCT
        return moves and self.high < FOLLOWS and self.ratio < SMOOTHER


def fluctuation(reference_w: FloatArray, expected_w: FloatArray, unit_w: FloatArray) -> Fluctuation | None:
    """Hold the unit's unsteadiness against the reference's in the seconds in which the effort held.

    Powers (n,), NaN where missing: as measured, through the unit's response, as compared. The slope of the unit's
    deviations on the reference's is near one for any meter that measures, whatever its gain, and near zero for a
    target; a display slower than its response says is given up to 20 s. ``None`` with under five minutes of held
    effort.
    """
    stretch = common_stretch(expected_w, unit_w)
    if stretch.lacks:
        return None
    surges, known = surging(stretch)
    held = known & ~surges & ~_stepping(stretch.expected_w)
    seconds = int(held.sum())
    measured = reference_w[stretch.first : stretch.first + stretch.present.size]
    short = _pieces(held, SCALES_S[0][1])
    if seconds < LEAST_SECONDS or len(short) < LEAST_PIECES:
        return None
    found = [
        _followed(stretch.expected_w, stretch.unit_w, _pieces(held, piece_s), scale_s, late_s)
        for scale_s, piece_s in SCALES_S
        for late_s in LATE_S
    ]
    best = max(found, key=lambda one: one[0])
    spread = np.median([np.std(_straightened(stretch.expected_w[start:stop])) for start, stop in short])
    return Fluctuation(
        seconds=seconds,
        followed=best[0],
        high=max(one[1] for one in found),
        ratio=best[2],
        reference_pct=100 * float(spread) / float(stretch.expected_w[held].mean()),
        rider=_of_the_rider([measured[start:stop] for start, stop in _pieces(held, SCALES_S[1][1])]),
    )


def _stepping(expected_w: FloatArray) -> BoolArray:
    """Where the plan took a step too small to be called a surge: half a minute's mean to the next moves by it."""
    ahead, behind = np.full(expected_w.size, np.nan), np.full(expected_w.size, np.nan)
    sums = np.concatenate([[0.0], np.cumsum(expected_w)])
    means = (sums[STEP_S:] - sums[:-STEP_S]) / STEP_S
    ahead[: means.size], behind[STEP_S - 1 :] = means, means
    with np.errstate(invalid="ignore"):
        return np.asarray(np.abs(ahead - behind) > STEP_SHARE * np.abs(ahead + behind) / 2)


def _pieces(held: BoolArray, piece_s: int) -> list[tuple[int, int]]:
    """Start and stop of pieces of held effort without a gap, ``piece_s`` seconds each."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], held.astype(np.int8), [0]])))
    return [
        (start, start + piece_s)
        for first, last in zip(edges[::2], edges[1::2], strict=True)
        for start in range(int(first), int(last) - piece_s + 1, piece_s)
    ]


def _straightened(values: FloatArray) -> FloatArray:
    """Deviations from the straight line through ``values`` (n,)."""
    place = np.arange(values.size) - (values.size - 1) / 2
    centred = values - values.mean()
    return np.asarray(centred - place * float(place @ centred) / float(place @ place), dtype=np.float64)


def _followed(
    expected_w: FloatArray, unit_w: FloatArray, pieces: list[tuple[int, int]], scale_s: int, late_s: int
) -> tuple[float, float, float]:
    """Part followed, high end, ratio of standard deviations, the unit ``late_s`` later: medians over ``pieces``."""
    parts, ratios = [], []
    for start, stop in pieces:
        if stop + late_s > unit_w.size:
            continue
        true = _straightened(_means(expected_w[start:stop], scale_s))
        own = _straightened(_means(unit_w[start + late_s : stop + late_s], scale_s))
        variance = float(true @ true)
        if variance > 0:
            parts.append(float(own @ true) / variance)
            ratios.append(float(np.sqrt(own @ own / variance)))
    if len(parts) < LEAST_PIECES:
        return 0.0, 0.0, 0.0
    middle = float(np.median(parts))
    # Standard error of a median of normal values, their spread from the median of absolute deviations.
    spread = 1.4826 * float(np.median(np.abs(np.array(parts) - middle)))
    error = 1.2533 * spread / np.sqrt(len(parts))
    return middle, middle + normal_quantile(LEVEL) * float(error), float(np.median(ratios))


def _means(values: FloatArray, scale_s: int) -> FloatArray:
    """Means over whole stretches of ``scale_s`` values."""
    whole = values.size // scale_s * scale_s
    return np.asarray(values[:whole].reshape(-1, scale_s).mean(axis=1), dtype=np.float64)


def _of_the_rider(pieces: list[FloatArray]) -> bool:
    """Whether deviations of the reference, as measured, go on for some seconds: the median over ``pieces``, its SE."""
    if len(pieces) < LEAST_PIECES:
        return False
    size = pieces[0].size
    place = np.arange(size) - (size - 1) / 2
    hat = 1 / size + np.outer(place, place) / float(place @ place)
    # A straight line takes a little out of noise, too, and leaves its neighbours correlated by as much.
    taken = np.array([np.trace(hat, lag) for lag in RIDER_LAGS_S])
    together = []
    for piece in pieces:
        apart = _straightened(np.where(np.isfinite(piece), piece, np.nanmean(piece)))
        variance = float(apart @ apart) / (size - 2)
        if variance > 0:
            products = np.array([float(apart[lag:] @ apart[:-lag]) for lag in RIDER_LAGS_S])
            together.append(float(np.mean(products / variance + taken)) / size)
    if len(together) < LEAST_PIECES:
        return False
    middle = float(np.median(together))
    spread = 1.4826 * float(np.median(np.abs(np.array(together) - middle)))
    return bool(middle > normal_quantile(LEVEL) * 1.2533 * spread / np.sqrt(len(together)))
