"""Cross-correlation over all lags of two series with missing samples."""

from __future__ import annotations

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray, IntArray


def fast_length(size: int) -> int:
    """The smallest 2**a * 3**b * 5**c that is at least ``size``: the FFT is quick there."""
    best = 1 << max(size - 1, 0).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            quotient = -(-size // three)
            best = min(best, three << max(quotient - 1, 0).bit_length())
            three *= 3
        five *= 5
    return best


def lags_of(reference_size: int, unit_size: int) -> IntArray:
    """All lags at which the series overlap, ascending: unit sample j falls on reference sample j + lag."""
    return np.arange(-(unit_size - 1), reference_size, dtype=np.int64)


def masked_correlation(reference: FloatArray, unit: FloatArray) -> tuple[IntArray, FloatArray, IntArray]:
    """Normalised correlation of the overlap at every lag, over samples both have.

    ``reference`` (n,) and ``unit`` (m,) hold NaN where missing. Returns lags (unit sample j on reference sample
    j + lag), the correlation coefficient at each (NaN where a side does not vary there), and the number of common
    samples. Padfield D (2012) Masked object registration in the Fourier domain, IEEE Trans. Image Process.
    21:2706-2718, equations 9-14 in one dimension (from memory).
    """
    lags = lags_of(reference.size, unit.size)
    has_a, has_b = np.isfinite(reference), np.isfinite(unit)
    a = np.where(has_a, reference - (np.nanmean(reference) if has_a.any() else 0.0), 0.0)
    b = np.where(has_b, unit - (np.nanmean(unit) if has_b.any() else 0.0), 0.0)
    length = fast_length(reference.size + unit.size - 1)
    ones_a, ones_b = _spectrum(has_a, length), _spectrum(has_b, length)
    series_a, series_b = _spectrum(a, length), _spectrum(b, length)
    square_a, square_b = _spectrum(a * a, length), _spectrum(b * b, length)

    def at_lags(left: FloatArray, right: FloatArray) -> FloatArray:
        return _at_lags(left, right, length, reference.size, unit.size)

    count = np.rint(at_lags(ones_a, ones_b))
    safe = np.maximum(count, 1.0)
    sum_a, sum_b = at_lags(series_a, ones_b), at_lags(ones_a, series_b)
    cross = at_lags(series_a, series_b) - sum_a * sum_b / safe
    spread_a = at_lags(square_a, ones_b) - sum_a**2 / safe
    spread_b = at_lags(ones_a, square_b) - sum_b**2 / safe
    product = np.maximum(spread_a, 0.0) * np.maximum(spread_b, 0.0)
    # Rounding of the FFT leaves a little where a side is constant: that is no spread.
    floor = 1e-9 * max(float(a @ a), 1e-30) * max(float(b @ b), 1e-30)
    varies = (count >= 3) & (product > floor * 1e-3)
    with np.errstate(invalid="ignore", divide="ignore"):
        r = np.where(varies, np.clip(cross / np.sqrt(product), -1.0, 1.0), np.nan)
    return lags, r, count.astype(np.int64)


def _spectrum(values: FloatArray | BoolArray, length: int) -> FloatArray:
    return np.asarray(np.fft.rfft(np.asarray(values, dtype=np.float64), length))


def _at_lags(left: FloatArray, right: FloatArray, length: int, reference_size: int, unit_size: int) -> FloatArray:
    """Sum of left[j + lag]·right[j] for every lag from -(unit_size - 1) to reference_size - 1."""
    circular = np.fft.irfft(left * np.conj(right), length)
    return np.asarray(np.concatenate([circular[length - unit_size + 1 :], circular[:reference_size]]))
