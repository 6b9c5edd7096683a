"""How strongly the bands of two series speak for each lag between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wattwitness.clock.bands import BANDS
from wattwitness.clock.correlate import fast_length, lags_of
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray

ComplexArray = NDArray[np.complex128]

LEAST_SPREAD = 4.0
"""Bands with less than this in the denominator of t hold too little to speak."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Banded:
    """One side's octave bands, shape (BANDS, n), and which samples each has."""

    bands: FloatArray
    has: BoolArray

    @property
    def size(self) -> int:
        """Seconds."""
        return int(self.bands.shape[1])

    @property
    def flat(self) -> bool:
        """Whether nothing varies in it."""
        return not bool(self.bands.any())

    def piece(self, start: int, stop: int) -> Banded:
        """The seconds from ``start`` to before ``stop``."""
        return Banded(bands=self.bands[:, start:stop], has=self.has[:, start:stop])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """For each lag (unit sample j on reference sample j + lag): ``score``, half the sum over bands of the squared
    positive t-values (a log likelihood ratio against "nothing in common"), and the common samples.
    """

    lags: IntArray
    score: FloatArray
    t_values: FloatArray
    common: IntArray


class Weigher:
    """Weighs pieces of a reference against one whole unit; the unit's transforms are made once."""

    def __init__(self, unit: Banded, piece_size: int, redundancy: FloatArray) -> None:
        """``piece_size`` is the longest piece of reference; ``redundancy`` is κ of each band, shape (BANDS,)."""
        self._size = unit.size
        self._length = fast_length(piece_size + unit.size - 1)
        self._redundancy = redundancy
        self._bands = [j for j in range(BANDS) if unit.bands[j].any()]
        self._series = {j: np.conj(np.fft.rfft(unit.bands[j], self._length)) for j in self._bands}
        self._squares = {j: np.conj(np.fft.rfft(unit.bands[j] ** 2, self._length)) for j in self._bands}
        self._has = np.conj(np.fft.rfft(unit.has.any(axis=0).astype(np.float64), self._length))

    def weigh(self, reference: Banded) -> Evidence:
        """Weigh every lag of ``reference`` (a piece, whose first sample counts as 0).

        In each band t = Σab / sqrt(κ·Σa²b²), summed over common samples. Its denominator is the spread the numerator
        would have if the signs of the products were drawn at random, so a few surges that happen to meet cannot count
        for more than their number; κ allows for serial correlation (Bartlett MS 1946, J. R. Stat. Soc. Suppl. 8:27-41,
        from memory).
        """
        lags = lags_of(reference.size, self._size)
        score = np.zeros(lags.size)
        t_values = np.zeros((BANDS, lags.size))
        for j in self._bands:
            if not reference.bands[j].any():
                continue
            numerator = self._at_lags(reference.bands[j], self._series[j])
            spread = self._redundancy[j] * self._at_lags(reference.bands[j] ** 2, self._squares[j])
            np.divide(numerator, np.sqrt(np.maximum(spread, 0)), out=t_values[j], where=spread > LEAST_SPREAD)
            score += 0.5 * np.maximum(t_values[j], 0) ** 2
        common = np.rint(self._at_lags(np.any(reference.has, axis=0).astype(np.float64), self._has))
        return Evidence(lags=lags, score=score, t_values=t_values, common=common.astype(np.int64))

    def _at_lags(self, values: FloatArray, unit: ComplexArray) -> FloatArray:
        """Σ a[j + lag]·b[j] for every lag of ``lags_of``."""
        circular = np.fft.irfft(np.fft.rfft(values, self._length) * unit, self._length)
        return np.concatenate([circular[self._length - self._size + 1 :], circular[: values.size]])


def t_along(reference: Banded, moved: Banded, redundancy: FloatArray) -> FloatArray:
    """T of each band, shape (BANDS,), of a unit that was moved onto the reference's seconds; see ``Weigher.weigh``."""
    product = reference.bands * moved.bands
    spread = redundancy * (product**2).sum(axis=1)
    answer: FloatArray = np.zeros(BANDS)
    np.divide(product.sum(axis=1), np.sqrt(spread), out=answer, where=spread > LEAST_SPREAD)
    return answer


def redundancy(reference: Banded, unit: Banded) -> FloatArray:
    """κ of each band: the sum over lags of the product of both sides' autocorrelations, shape (BANDS,)."""
    return np.array([_redundancy(reference.bands[j], unit.bands[j], 2 ** (j + 2) * 3) for j in range(BANDS)])


def _redundancy(a: FloatArray, b: FloatArray, reach: int) -> float:
    product = np.ones(reach + 1)
    for values in (a, b):
        if not values.any():
            return 1.0
        length = fast_length(values.size + reach)
        own = np.fft.irfft(np.abs(np.fft.rfft(values, length)) ** 2, length)[: reach + 1]
        product = product * own / own[0]
    return float(max(1.0, product[0] + 2 * product[1:].sum()))
