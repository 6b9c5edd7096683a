"""Causal kernels on the one-second grid: trailing mean, discrete exponential, pure delay.

All are convolutions that know missing samples: the weights are shared out again over the samples that are present, and
where less than half of a kernel's weight falls on present samples the answer is missing. What came before the record
began is missing in the same way.
"""

from __future__ import annotations

import math

import numpy as np

from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import Response, ResponseKind

PRESENT_WEIGHT = 0.5
"""The least share of a kernel's weight that has to fall on present samples."""

NEGLIGIBLE_WEIGHT = 1e-5
"""The tail of the exponential kernel that is cut off; the rest is scaled to sum to 1."""


def mean_kernel(width_s: float) -> FloatArray:
    """Weights of the trailing mean over ``width_s`` one-second samples, newest first, shape (ceil(width_s),), sum 1.

    A fraction of a second is the weight of the oldest sample. Raises ValueError below 1 s, which is one sample.
    """
    if not 1.0 <= width_s < math.inf:
        raise ValueError(f"a mean needs a width of 1 s or more, not {width_s}")
    whole = int(width_s)
    rest = width_s - whole
    weights = np.ones(whole + (1 if rest > 1e-9 else 0))
    if weights.size > whole:
        weights[-1] = rest
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def exponential_kernel(tau_s: float) -> FloatArray:
    """Weights of the one-pole filter with time constant ``tau_s``, newest first, sum 1.

    ``y[t] = a*y[t-1] + (1 - a)*x[t]`` with ``a = exp(-1/tau_s)``, so the weights are ``(1 - a)*a**k``; the tail is cut
    where it holds less than 1e-5 of the weight. Raises ValueError unless ``tau_s`` is positive and finite.
    """
    if not 0.0 < tau_s < math.inf:
        raise ValueError(f"a time constant has to be positive, not {tau_s}")
    decay = math.exp(-1.0 / tau_s)
    length = 1 if decay <= NEGLIGIBLE_WEIGHT else 1 + math.ceil(tau_s * -math.log(NEGLIGIBLE_WEIGHT))
    weights = decay ** np.arange(length, dtype=np.float64)
    return np.asarray(weights / weights.sum(), dtype=np.float64)


def response_kernel(response: Response) -> FloatArray:
    """The kernel of ``response`` without its delay; a single 1 where it is prompt or was not assessed."""
    if response.kind is ResponseKind.MEAN and response.width_s.value is not None:
        return mean_kernel(response.width_s.value)
    if response.kind is ResponseKind.EXPONENTIAL and response.tau_s.value is not None:
        return exponential_kernel(response.tau_s.value)
    return np.ones(1)


def kernel_lag_s(kernel: FloatArray) -> float:
    """Mean lag of ``kernel`` in seconds: (width - 1)/2 for a mean over whole seconds."""
    return float(np.arange(kernel.size) @ kernel)


def mean_lag_s(response: Response) -> float:
    """How late ``response`` shows an effort on average, in seconds: its kernel's mean lag plus its delay.

    A delay that was not assessed counts as none.
    """
    return kernel_lag_s(response_kernel(response)) + (response.delay_s.value or 0.0)


def apply_response(power: FloatArray, response: Response) -> FloatArray:
    """What a meter with ``response`` would show of ``power`` (shape (n,), one value a second, NaN where missing).

    Same shape; NaN where less than half of the weight is present, and so at the start of the record. A delay that was
    not assessed counts as none.
    """
    return convolve_present(power, response_kernel(response), response.delay_s.value or 0.0)


def convolve_present(power: FloatArray, kernel: FloatArray, delay_s: float = 0.0) -> FloatArray:
    """Pass ``power`` (shape (n,)) through ``kernel`` and a pure delay (negative: earlier), over present samples.

    A fraction of a second of delay is a linear interpolation between the two neighbouring seconds.
    """
    power = np.asarray(power, dtype=np.float64)
    present = np.isfinite(power)
    whole = math.floor(delay_s)
    rest = delay_s - whole
    if rest > 1e-9:
        kernel = np.convolve(kernel, np.array([1.0 - rest, rest]))
    if kernel.size == 1 and whole == 0:
        return np.where(present, power, np.nan)
    weighted = _shifted(_causal(np.where(present, power, 0.0), kernel), whole)
    weight = _shifted(_causal(present.astype(np.float64), kernel), whole)
    enough = weight >= PRESENT_WEIGHT - 1e-9
    answer: FloatArray = np.full(power.shape, np.nan)
    np.divide(weighted, weight, out=answer, where=enough)
    return answer


def _causal(values: FloatArray, kernel: FloatArray) -> FloatArray:
    """The first n values of the convolution; by FFT where the kernel is long enough to gain from it."""
    size = values.size
    if size == 0:
        return values
    if kernel.size <= 64:
        return np.asarray(np.convolve(values, kernel)[:size], dtype=np.float64)
    length = _fast_length(size + kernel.size - 1)
    product = np.fft.rfft(values, length) * np.fft.rfft(kernel, length)
    return np.asarray(np.fft.irfft(product, length)[:size], dtype=np.float64)


def _fast_length(size: int) -> int:
    """The smallest 2**a * 3**b * 5**c that is at least ``size``; the FFT is quick there."""
    best = 1 << (size - 1).bit_length()
    five = 1
    while five < best:
        three = five
        while three < best:
            quotient = -(-size // three)
            best = min(best, three << max(0, (quotient - 1).bit_length()))
            three *= 3
        five *= 5
    return best


def _shifted(values: FloatArray, seconds: int) -> FloatArray:
    """``values`` moved later by ``seconds`` (negative: earlier), zeros moving in."""
    if seconds == 0:
        return values
    moved = np.zeros_like(values)
    if abs(seconds) < values.size:
        if seconds > 0:
            moved[seconds:] = values[:-seconds]
        else:
            moved[:seconds] = values[-seconds:]
    return moved
