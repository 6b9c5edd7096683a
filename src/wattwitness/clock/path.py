"""The lag along the ride: which candidate holds when, and where it jumps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.evidence import Banded, Evidence, Weigher
from wattwitness.model.arrays import FloatArray, IntArray

BLOCK = 15
"""Seconds of the reference decided at a time."""

PIECE = 600
"""Seconds of the reference searched at a time, at least; long rides are cut into about 16 pieces."""

PEAKS_A_PIECE = 6
PEAK_SCORE, PEAK_SHARE = 9.0, 0.4
"""Evidence of a lag in a piece, alone and against the piece's best, from which it is followed."""

SPREAD = 2
"""Each candidate stands with its neighbours to this many seconds, for drift."""

MOST_CANDIDATES = 16

PATH_BANDS = 6
"""Bands that decide where a lag holds: periods up to about 128 s, where they agree at all."""

QUICK_BANDS, QUICK_AGREE = 4, 0.3
"""Bands with periods up to about 32 s, and the correlation one of them needs to speak for itself."""

NO_LAG = np.iinfo(np.int64).min
"""A second that no second of the unit falls on."""

JUMP_COST = 16.0
CREEP_COST = 3.0
"""Costs in nats (log likelihood) of a jump between candidates and of a change by one second."""

WORST_BLOCK = -1.0
"""Nats a block can speak against a lag at most."""


def peaks(found: Evidence, least_common: int, count: int, apart: int = 4) -> list[tuple[int, float]]:
    """The ``count`` lags of highest score with enough common samples, at least ``apart`` seconds from each other."""
    score = np.where(found.common >= least_common, found.score, 0.0)
    answer = []
    for _ in range(count):
        best = int(np.argmax(score))
        if score[best] <= 0:
            break
        answer.append((int(found.lags[best]), float(score[best])))
        score[max(best - apart, 0) : best + apart + 1] = 0.0
    return answer


def candidates(reference: Banded, unit: Banded, whole: Evidence, redundancy: FloatArray, least: int) -> IntArray:
    """Lags worth following along the ride: those of the whole and those of its pieces, with their neighbours."""
    piece = max(PIECE, reference.size // 16)
    overall = peaks(whole, least, PEAKS_A_PIECE)
    found = {lag: score for lag, score in overall if score >= PEAK_SHARE * overall[0][1]}
    hop = piece if reference.size > 16 * PIECE else piece // 2
    if reference.size > piece:
        weigher = Weigher(unit, piece, redundancy)
        for start in range(0, max(reference.size - piece // 2, 1), hop):
            part = weigher.weigh(reference.piece(start, start + piece))
            here = peaks(part, min(least, piece // 4), PEAKS_A_PIECE)
            for lag, score in here:
                if score >= max(PEAK_SCORE, PEAK_SHARE * here[0][1]):
                    found[lag + start] = max(score, found.get(lag + start, 0.0))
    ranked = sorted(found, key=lambda lag: -found[lag])
    kept: list[int] = []
    for lag in ranked:
        if len(kept) < MOST_CANDIDATES and all(abs(lag - other) > SPREAD for other in kept):
            kept.append(lag)
    near = np.arange(-SPREAD, SPREAD + 1)
    return np.unique(np.add.outer(np.array(kept, dtype=np.int64), near))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Agreement:
    """How the bands agree where the lag is right: correlation of each, shape (BANDS,), and redundancy κ."""

    correlation: FloatArray
    redundancy: FloatArray

    def quick(self) -> Agreement:
        """The quick bands alone, where they agree at all: the slow ones smear what happens at an instant."""
        quick = self.correlation[:QUICK_BANDS]
        if not np.any(quick > QUICK_AGREE):
            return self
        correlation = np.concatenate([quick, np.zeros(self.correlation.size - QUICK_BANDS)])
        return Agreement(correlation=correlation, redundancy=self.redundancy)

    def weights(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Factors of ab, of a² + b², and the constant of each band's log likelihood ratio of a sample.

        The slowest bands hold too few swings to say where along the ride a lag holds, and are left out.
        """
        r = np.clip(self.correlation, 0.0, 0.95)
        if np.any(r[:PATH_BANDS] > 0.2):
            r[PATH_BANDS:] = 0.0
        free = 1 - r**2
        return r / free / self.redundancy, r**2 / (2 * free) / self.redundancy, -0.5 * np.log(free) / self.redundancy


def agreement(reference: Banded, unit: Banded, lag_at: IntArray, redundancy: FloatArray) -> Agreement:
    """Correlation of each band over the samples that ``lag_at`` (shape (n,), ``NO_LAG``: none) brings together."""
    index = np.flatnonzero(lag_at != NO_LAG)
    j = index - lag_at[index]
    inside = (j >= 0) & (j < unit.size)
    index, j = index[inside], j[inside]
    a, b = reference.bands[:, index], unit.bands[:, j]
    both = reference.has[:, index] & unit.has[:, j]
    a, b = a * both, b * both
    power = np.sqrt((a * a).sum(axis=1) * (b * b).sum(axis=1))
    r = np.divide((a * b).sum(axis=1), power, out=np.zeros(power.shape), where=power > 0)
    return Agreement(correlation=r, redundancy=redundancy)


def sample_scores(reference: Banded, unit: Banded, lag: int, how: Agreement) -> FloatArray:
    """Log likelihood ratio of each reference second under ``lag``, against nothing in common; 0 where one misses."""
    product, square, constant = how.weights()
    answer = np.zeros(reference.size)
    start, stop = max(0, lag), min(reference.size, unit.size + lag)
    if start >= stop:
        return answer
    a, b = reference.bands[:, start:stop], unit.bands[:, start - lag : stop - lag]
    both = (reference.has[:, start:stop] & unit.has[:, start - lag : stop - lag]).astype(np.float64)
    score = np.zeros(stop - start)
    for j in np.flatnonzero(product):
        # Band by band: threads of a matrix product cost more here than they bring.
        x, y = a[j], b[j]
        score += product[j] * (x * y) - (square[j] * (x * x + y * y) - constant[j]) * both[j]
    answer[start:stop] = score
    return answer


def follow(reference: Banded, unit: Banded, lags: IntArray, how: Agreement) -> tuple[IntArray, float]:
    """The most likely lag of each reference second, shape (n,), and its log likelihood ratio (Viterbi 1967).

    Blocks of 15 s. Staying is free and a change by one second cheap, for drift; a jump to a later lag also has to skip
    as many seconds as it steps, since the unit's samples before it are used up. Skipped seconds are ``NO_LAG``. What a
    block can say against a lag is limited, so that a stretch of bad samples is ridden out.
    """
    edges = np.arange(0, reference.size, BLOCK)
    scores = np.empty((edges.size, lags.size))
    for column, lag in enumerate(lags):
        scores[:, column] = np.add.reduceat(sample_scores(reference, unit, int(lag), how), edges)
    choice, total = _viterbi(np.maximum(scores, WORST_BLOCK), lags)
    at_block = np.where(choice >= 0, lags[choice], NO_LAG)
    return np.repeat(at_block, BLOCK)[: reference.size], total


def _viterbi(scores: FloatArray, lags: IntArray) -> tuple[IntArray, float]:
    """Best state of each block, -1 where it is skipped, and the score of the whole."""
    blocks, states = scores.shape
    every = np.arange(states)
    step = lags[:, None] - lags[None, :]
    # [to, from]: blocks to go back to the last one before the jump; rounding forgives a block on either side.
    back = 1 + np.maximum(step // BLOCK - 1, 0)
    cost = np.where(step == 0, 0.0, np.where(np.abs(step) == 1, CREEP_COST, JUMP_COST))
    back[np.abs(step) <= 1] = 1
    best = np.full((blocks, states), -np.inf)
    came = np.zeros((blocks, states), dtype=np.int64)
    best[0] = scores[0]
    for k in range(1, blocks):
        at = k - back
        offered = np.where(at >= 0, best[np.maximum(at, 0), every[None, :]], -np.inf) - cost
        came[k] = np.argmax(offered, axis=1)
        best[k] = offered[every, came[k]] + scores[k]
    choice = np.full(blocks, -1, dtype=np.int64)
    k, state = blocks - 1, int(np.argmax(best[-1]))
    total = float(best[-1, state])
    while k >= 0:
        choice[k] = state
        origin = int(came[k, state])
        k, state = k - int(back[state, origin]), origin
    return choice, total
