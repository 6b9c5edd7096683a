"""Whether one side of a channel is smoother than the other, by which kernel, and what that does to the lag.

A trailing mean or an exponential shows the effort late by its own mean lag. Its mark is in the spectra: it takes
variation away at high frequency, where an unsmoothed meter has the rider's variation and its own noise. Every kernel of
the family is tried on either side; each gives a lag of its own and a likelihood, so that what the data cannot tell
apart widens the interval.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from wattwitness.clock.spectra import ComplexArray, Spectra
from wattwitness.model.arrays import FloatArray


class Shape(StrEnum):
    """Nothing, the mean of the last samples, or a one-pole filter; on one-second values."""

    PROMPT = "prompt"
    MEAN = "mean"
    EXPONENTIAL = "exponential"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kernel:
    """A kernel of ``shape`` with ``size_s``: width of a mean, time constant of an exponential, 0 for prompt."""

    shape: Shape
    size_s: float

    @property
    def lag_s(self) -> float:
        """Mean lag."""
        if self.shape is Shape.PROMPT:
            return 0.0
        if self.shape is Shape.MEAN:
            return (self.size_s - 1) / 2
        return 1 / math.expm1(1 / self.size_s)

    def response(self, hz: FloatArray) -> ComplexArray:
        """Frequency response at ``hz``."""
        omega = 2 * np.pi * hz
        if self.shape is Shape.PROMPT:
            return np.ones(hz.shape, dtype=np.complex128)
        if self.shape is Shape.MEAN:
            return np.asarray(np.exp(-1j * np.outer(np.arange(round(self.size_s)), omega)).mean(axis=0))
        keep = math.exp(-1 / self.size_s)
        return np.asarray((1 - keep) / (1 - keep * np.exp(-1j * omega)))


PROMPT = Kernel(shape=Shape.PROMPT, size_s=0.0)
KERNELS = (
    *(Kernel(shape=Shape.MEAN, size_s=float(w)) for w in (2, 3, 4, 5, 6, 7, 8, 10, 12)),
    *(Kernel(shape=Shape.EXPONENTIAL, size_s=t) for t in (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)),
)
FIRST_KERNELS = tuple(one for one in KERNELS if one.size_s in (0.5, 1.0, 2.0, 3.0, 4.0, 8.0))
"""Enough to see whether anything is smoothed."""

FEWER_KERNELS = (
    *(Kernel(shape=Shape.MEAN, size_s=float(w)) for w in (2, 3, 4, 5, 6)),
    *(Kernel(shape=Shape.EXPONENTIAL, size_s=t) for t in (0.5, 1.0, 1.5, 2.0, 3.0)),
)
"""Tried on the other side, where one side is smoothed: the two then differ less than either from the effort."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hypothesis:
    """A kernel on each side, the log likelihood of the spectra under it, and the lag that goes with it.

    ``extra_s``: seconds by which that lag exceeds the one the spectra were aligned by.
    """

    reference: Kernel
    unit: Kernel
    noise_smoothed: bool
    log_likelihood: float
    extra_s: float


def hypotheses(
    seen: Spectra,
    cross: ComplexArray,
    pairs: Sequence[tuple[Kernel, Kernel]],
    *,
    share_a: FloatArray,
    share_b: FloatArray,
    floor_a: float,
    floor_b: float,
) -> list[Hypothesis]:
    """Fit every pair of kernels (reference, unit) to the spectra of the ride.

    The model at each frequency: signal power S free, times both responses; white noise of free size on each side, or
    noise that passed through the kernel, with a ``floor`` of rounding; and slow noise of free size, the same on both.
    Its Whittle likelihood is that of a complex Wishart matrix, with S at its best in closed form. ``share_a``,
    ``share_b``: what bridging left of each side. Returned in the order of ``pairs``, white noise first.
    """
    tried = [
        (a, b, through) for a, b in pairs for through in ((False,) if a is PROMPT and b is PROMPT else (False, True))
    ]
    known = {kernel: kernel.response(seen.hz) for pair in pairs for kernel in pair}
    raw_a = np.array([known[a] for a, _, _ in tried])
    raw_b = np.array([known[b] for _, b, _ in tried])
    through = np.array([one[2] for one in tried])[:, None]
    model = _Model(
        product=np.conj(raw_a * share_a) * raw_b * share_b * cross,
        square_a=np.abs(raw_a * share_a) ** 2,
        square_b=np.abs(raw_b * share_b) ** 2,
        shape_a=np.where(through, np.abs(raw_a) ** 2, 1.0),
        shape_b=np.where(through, np.abs(raw_b) ** 2, 1.0),
        floor_a=floor_a,
        floor_b=floor_b,
    )
    lag = np.array([b.lag_s - a.lag_s for a, b, _ in tried])
    high_a, high_b = (float(np.median(power[-seen.hz.size // 4 :])) for power in (seen.power_a, seen.power_b))
    sizes = np.tile(np.log([high_a / 2, high_b / 2, 0.05 * min(high_a, high_b)]), (lag.size, 1))
    # The lag read off the phase lies between none of the kernel's mean lag and all of it.
    extra = lag[:, None] * np.linspace(0.0, 1.1, 23)
    found, likelihood = lag, np.zeros(lag.size)
    for turn, around in enumerate((0.3, 0.06, 0.0)):
        sizes, likelihood = _best_noise(seen, model, sizes, found, 1.5 / 2**turn)
        if around:
            found, likelihood = _best_extra(seen, model, sizes, extra)
            extra = found[:, None] + around * np.linspace(-1.0, 1.0, 13)
    return [
        Hypothesis(reference=a, unit=b, noise_smoothed=after, log_likelihood=float(value), extra_s=float(shift))
        for (a, b, after), value, shift in zip(tried, likelihood, found, strict=True)
    ]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Model:
    """H hypotheses on F frequencies, (H, F) each: both responses times the cross-spectrum, their squares, and the
    shapes of both noises; floors of rounding.
    """

    product: ComplexArray
    square_a: FloatArray
    square_b: FloatArray
    shape_a: FloatArray
    shape_b: FloatArray
    floor_a: float
    floor_b: float


SLOW_HZ = 0.05
"""Corner of the slow part of the noise, the same on both sides: what the two meters see apart over tens of seconds."""


def _noises(seen: Spectra, model: _Model, sizes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Noise power of both sides, (H, G, F), for log ``sizes`` (H, G, 3)."""
    size = np.exp(sizes)[..., None, :]
    slow = size[..., 2] / (1 + (seen.hz / SLOW_HZ) ** 2)
    noise_a = size[..., 0] * model.shape_a[:, None, :] + model.floor_a + slow
    noise_b = size[..., 1] * model.shape_b[:, None, :] + model.floor_b + slow
    return noise_a, noise_b


def _likelihood(
    seen: Spectra, model: _Model, noise_a: FloatArray, noise_b: FloatArray, shared: FloatArray
) -> FloatArray:
    """Log likelihood (H, G), of noises (H, G, F) and the real cross terms ``shared`` (H, G, F)."""
    square_a, square_b = model.square_a[:, None, :], model.square_b[:, None, :]
    both = noise_a * noise_b
    q = (square_a * noise_b + square_b * noise_a) / both
    p = square_a * seen.power_a / noise_a**2 + square_b * seen.power_b / noise_b**2 + 2 * shared / both
    ratio = np.maximum(p / q, 1.0)
    own = np.log(both * ratio) + seen.power_a / noise_a + seen.power_b / noise_b
    return np.asarray(-seen.freedom * (own - ratio + 1).sum(axis=-1))


def _best_noise(
    seen: Spectra, model: _Model, sizes: FloatArray, extra: FloatArray, step: float
) -> tuple[FloatArray, FloatArray]:
    """Climb the three log noise sizes one after the other, by steps that shrink, at the lag ``extra`` (H,)."""
    shared = np.real(model.product * np.exp(2j * np.pi * np.outer(extra, seen.hz)))[:, None, :]
    offsets = np.array([-1.0, -0.4, 0.0, 0.4, 1.0])
    rows = np.arange(sizes.shape[0])
    likelihood = np.full(sizes.shape[0], -np.inf)
    for _ in range(5):
        for which in range(3):
            tried = np.repeat(sizes[:, None, :], offsets.size, axis=1)
            tried[:, :, which] += step * offsets
            values = _likelihood(seen, model, *_noises(seen, model, tried), shared)
            best = np.argmax(values, axis=1)
            sizes, likelihood = tried[rows, best], values[rows, best]
        step *= 0.6
    return sizes, likelihood


def _best_extra(seen: Spectra, model: _Model, sizes: FloatArray, extra: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Of the lags ``extra`` (H, G) beyond the alignment the one that fits best."""
    shared = np.real(model.product[:, None, :] * np.exp(2j * np.pi * extra[..., None] * seen.hz))
    values = _likelihood(seen, model, *_noises(seen, model, sizes[:, None, :]), shared)
    best = np.argmax(values, axis=1)
    rows = np.arange(best.size)
    return extra[rows, best], values[rows, best]
