"""Whether another offset fits as well as the best one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.bands import BANDS
from wattwitness.clock.correlate import fast_length
from wattwitness.clock.evidence import Banded
from wattwitness.clock.path import NO_LAG, Agreement, sample_scores
from wattwitness.clock.segments import Stretch, lags_along
from wattwitness.clock.windows import without_level
from wattwitness.model.arrays import FloatArray, IntArray

BLOCK_S = 30
"""Seconds whose scores are added before their scatter is taken: neighbours are then nearly independent."""

LEAST_SHARE = 0.3
"""A rival that covers less of the best one's common time is left out: efforts that repeat have nearer ones too."""

LEVEL_S = 150
"""Half-width of the mean that is taken off before a correlation is stated."""

LEAST_REMOVE_S = 6
MOST_RIVALS = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Another lag, ``shift_s`` later than the best all along the ride.

    ``t``: by how many standard errors the best fits better (Vuong QH 1989, Econometrica 57:307-333: non-nested
    hypotheses compared by the scatter of their log likelihood ratio; from memory). Seconds that one of them leaves
    without a counterpart count as unrelated there. ``share``: how much of the best one's common time it covers.
    """

    shift_s: int
    t: float
    share: float


def along_path(unit: Banded, stretches: Sequence[Stretch], size: int) -> Banded:
    """The unit's bands moved onto the reference's seconds, shape (BANDS, size); nothing where no unit second falls."""
    lag_at = lags_along(stretches, size)
    where = np.arange(size)
    j = np.where(lag_at != NO_LAG, where - lag_at, -1)
    inside = (j >= 0) & (j < unit.size)
    j = np.clip(j, 0, unit.size - 1)
    return Banded(bands=unit.bands[:, j] * inside, has=unit.has[:, j] & inside)


def shift_scores(reference: Banded, moved: Banded, how: Agreement) -> tuple[IntArray, FloatArray, FloatArray]:
    """Summed log likelihood ratio of every shift of the moved unit, and the common seconds, over all shifts."""
    n = reference.size
    length = fast_length(2 * n - 1)
    product, square, constant = how.weights()
    total = np.zeros(length // 2 + 1, dtype=np.complex128)
    for j in range(BANDS):
        if product[j] == 0.0:
            continue
        a, b = reference.bands[j], moved.bands[j]
        has_a, has_b = reference.has[j].astype(np.float64), moved.has[j].astype(np.float64)
        here = [np.fft.rfft(x, length) for x in (a, a * a, has_a)]
        there = [np.conj(np.fft.rfft(x, length)) for x in (b, b * b, has_b)]
        total += product[j] * here[0] * there[0] + constant[j] * here[2] * there[2]
        total -= square[j] * (here[1] * there[2] + here[2] * there[1])
    any_a, any_b = (np.fft.rfft(one.has.any(axis=0).astype(np.float64), length) for one in (reference, moved))
    shifts = np.arange(-(n - 1), n)
    order = [np.fft.irfft(x, length) for x in (total, any_a * np.conj(any_b))]
    score, common = (np.concatenate([x[length - n + 1 :], x[:n]]) for x in order)
    return shifts, score, np.rint(common)


def rivals(reference: Banded, moved: Banded, how: Agreement, least_common: int) -> tuple[Rival, ...]:
    """The shifts that come nearest to fitting as well as none, most threatening first."""
    shifts, score, common = shift_scores(reference, moved, how)
    middle = reference.size - 1
    if common[middle] <= 0 or score[middle] <= 0:
        return (Rival(shift_s=0, t=0.0, share=1.0),)
    deficit = score[middle] - score
    deficit[common < max(least_common, LEAST_SHARE * common[middle])] = np.inf
    remove = _peak_reach(score, middle)
    deficit[middle - remove : middle + remove + 1] = np.inf
    answer = []
    for _ in range(MOST_RIVALS):
        k = int(np.argmin(deficit))
        if not np.isfinite(deficit[k]):
            break
        answer.append(_compared(reference, moved, how, int(shifts[k]), float(common[k] / common[middle])))
        deficit[max(k - 4, 0) : k + 5] = np.inf
    return tuple(sorted(answer, key=lambda rival: rival.t))


def _peak_reach(score: FloatArray, middle: int) -> int:
    """Seconds from the best over which the score still falls: a broad peak is no rival of itself."""
    reach = LEAST_REMOVE_S
    most = min(120, middle, score.size - middle - 1)
    while reach < most:
        ahead = max(
            score[middle + reach : middle + reach + 3].max(), score[middle - reach - 2 : middle - reach + 1].max()
        )
        if ahead <= 0 or ahead < 0.3 * score[middle]:
            break
        reach += 1
    return reach


def _compared(reference: Banded, moved: Banded, how: Agreement, shift: int, share: float) -> Rival:
    best = sample_scores(reference, moved, 0, how)
    other = sample_scores(reference, moved, shift, how)
    difference = best - other
    spoken = (best != 0) | (other != 0)
    edges = np.arange(0, difference.size, BLOCK_S)
    blocks = np.add.reduceat(difference, edges)
    blocks = blocks[np.add.reduceat(spoken.astype(np.int64), edges) > BLOCK_S // 4]
    if blocks.size < 3:
        return Rival(shift_s=shift, t=0.0, share=share)
    spread = float(blocks.std(ddof=1)) * np.sqrt(blocks.size)
    t = float(blocks.sum()) / spread if spread > 0 else 0.0
    return Rival(shift_s=shift, t=t, share=share)


def correlation_at(reference: FloatArray, unit: FloatArray, stretches: Sequence[Stretch], shift: int) -> float:
    """Pearson's correlation of both values (NaN where missing), less their level over some minutes, where the unit is
    moved ``shift`` seconds later than the stretches say; NaN where fewer than 30 s meet or a side does not vary.
    """
    lag_at = lags_along(stretches, reference.size)
    j = np.where(lag_at != NO_LAG, np.arange(reference.size) - lag_at - shift, -1)
    inside = (j >= 0) & (j < unit.size)
    a, b = without_level(reference, LEVEL_S), without_level(unit, LEVEL_S)[np.clip(j, 0, unit.size - 1)]
    both = inside & np.isfinite(a) & np.isfinite(b)
    if both.sum() < 30:
        return float("nan")
    a, b = a[both] - a[both].mean(), b[both] - b[both].mean()
    power = float(np.sqrt((a @ a) * (b @ b)))
    return float(np.clip(a @ b / power, -1.0, 1.0)) if power > 0 else float("nan")
