"""What two one-second power series hold at each frequency, stretch by stretch: the data the response is fitted to.

Changes are used rather than levels, in overlapping tapered stretches (Welch 1967, IEEE Trans. Audio Electroacoust.
15:70; from memory), so that gaps cost only the stretches they touch and a fault of minutes can be given less weight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wattwitness.model.aligned import Blend
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray

ComplexArray = NDArray[np.complex128]

STRETCH_S = 256
SHORT_STRETCH_S = 128
FEWEST_LONG = 8
"""With fewer long stretches, short ones are used."""
FEWEST_STRETCHES = 5
FILLED_S = 2
"""Gaps up to this long are bridged; a longer one spoils the stretches it touches."""
SPOILT_SHARE = 0.05
"""The share of a stretch that may be missing."""
LOWEST_BIN = 2
FEWEST_BINS = 6
HIGHEST_HZ = 0.47
CLOSE_S = 1.1
"""Samples as close as this show every frequency of the grid; wider ones, which fold faster changes onto slower ones,
only up to a share of their rate."""
HIGHEST_OF_WIDE = 0.35
EARLIEST_LAG_S, LATEST_LAG_S = -25, 45
NEARER_BY_S = 400.0
"""Peaks of nearly equal height, as in even intervals: the one nearer to none wins by its distance over this."""
BLENDS_SAMPLED = 128
OVERLAP_WORTH = 0.55
"""Independent values in a stretch that shares each of its halves with another, against a stretch alone."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectra:
    """Power spectra of both meters and their cross spectrum in G groups of neighbouring frequencies, S stretches.

    ``reference``, ``unit`` (real) and ``cross`` (unit times conjugate of reference) have shape (S, G), in W^2 per bin,
    as of levels (the differencing is divided out). The unit was first moved earlier by ``coarse_lag_s``, the whole
    seconds by which it trails at the peak of their correlation. ``worth``, shape (G,), is how many independent complex
    values a stretch of ``length_s`` gives to each group. ``bin_hz``, shape (F,), are the frequencies before grouping
    and ``first_bin``, shape (G,), where each group starts among them; ``group_hz``, shape (G,), the mean frequency of
    each and ``group_turns``, shape (length_s, G), the mean of ``exp(-2j*pi*f*k)`` for every delay of k s. The blurs,
    shape (F,), are what putting each power on the grid did to it; ``None`` for the unit: not known.
    ``spacing_s``: how far apart the samples of the meter with the wider spacing were.
    """

    reference: FloatArray
    unit: FloatArray
    cross: ComplexArray
    coarse_lag_s: int
    length_s: int
    bin_hz: FloatArray
    first_bin: IntArray
    worth: FloatArray
    group_hz: FloatArray
    group_turns: ComplexArray
    reference_blur: ComplexArray
    unit_blur: ComplexArray | None
    spacing_s: float

    @property
    def stretches(self) -> int:
        """How many stretches there are."""
        return int(self.reference.shape[0])

    @property
    def both_change(self) -> bool:
        """Whether both meters showed more than one number in most stretches."""
        return all(float(np.median(meter.sum(axis=1))) > 0.0 for meter in (self.reference, self.unit))

    def grouped(self, values: NDArray[Any]) -> NDArray[Any]:
        """Means over each group of ``values`` with shape (..., F); shape (..., G)."""
        sizes = np.diff(np.append(self.first_bin, self.bin_hz.size))
        return np.asarray(np.add.reduceat(values, self.first_bin, axis=-1) / sizes)


def power_spectra(
    reference_w: FloatArray,
    unit_w: FloatArray,
    *,
    reference_blend: Blend | None = None,
    unit_blend: Blend | None = None,
) -> Spectra | None:
    """The spectra of both series (shape (n,), one value a second, NaN where missing).

    Where samples were further apart than the grid's seconds, only frequencies that they can show are kept.
    ``None`` where there are fewer than five usable stretches of 128 s.
    """
    stretches = _stretches(reference_w, unit_w)
    if stretches is None:
        return None
    coarse_lag_s = _peak_lag_s(*stretches)
    if coarse_lag_s != 0:
        stretches = _stretches(*_moved(reference_w, unit_w, coarse_lag_s))
    return None if stretches is None else _grouped(stretches, coarse_lag_s, reference_blend, unit_blend)


def _moved(reference_w: FloatArray, unit_w: FloatArray, lag_s: int) -> tuple[FloatArray, FloatArray]:
    """Both series cut so that the unit no longer trails by ``lag_s``."""
    if lag_s >= 0:
        return reference_w[: reference_w.size - lag_s], unit_w[lag_s:]
    return reference_w[-lag_s:], unit_w[:lag_s]


def _stretches(reference_w: FloatArray, unit_w: FloatArray) -> tuple[ComplexArray, ComplexArray] | None:
    """The transforms of changes of both series in every usable stretch, shape (S, length//2 + 1)."""
    reference_w, reference_missing = _bridged(reference_w)
    unit_w, unit_missing = _bridged(unit_w)
    missing = reference_missing | unit_missing
    lost = missing[1:] | missing[:-1]
    for length, fewest in ((STRETCH_S, FEWEST_LONG), (SHORT_STRETCH_S, FEWEST_STRETCHES)):
        starts = _usable_starts(lost, length)
        if starts.size >= fewest:
            index = starts[:, np.newaxis] + np.arange(length)
            taper = np.sin(np.pi * (np.arange(length) + 0.5) / length) ** 2
            taper /= np.sqrt(np.sum(taper**2))
            pieces = [np.where(lost, 0.0, np.diff(series))[index] for series in (reference_w, unit_w)]
            reference, unit = (
                np.fft.rfft((piece - piece.mean(axis=1, keepdims=True)) * taper, axis=1) for piece in pieces
            )
            return reference, unit
    return None


def taper_overlap(lag_s: FloatArray, length_s: int) -> FloatArray:
    """How much of a common signal a stretch of ``length_s`` still holds of both meters if one trails by ``lag_s``.

    The autocorrelation of the taper (squared sine), shape as ``lag_s``; 1 at none.
    """
    share = np.minimum(np.abs(lag_s) / length_s, 1.0)
    turn = 2.0 * np.pi * share
    return np.asarray((1.0 - share) * (2.0 + np.cos(turn)) / 3.0 + np.sin(turn) / (2.0 * np.pi), dtype=np.float64)


def blend_transfer(share: FloatArray, frequency_hz: FloatArray, spacing_s: FloatArray | float = 1.0) -> ComplexArray:
    """Transfer functions, shape (B, F), of straight lines between two samples ``share`` (shape (B,)) of the way.

    The earlier sample, ``share*spacing_s`` before, weighs ``1 - share``; the later one weighs ``share``.
    """
    turn = np.outer(np.broadcast_to(spacing_s, share.shape), 2j * np.pi * frequency_hz)
    wide = share[:, np.newaxis]
    return np.asarray((1.0 - wide) * np.exp(-turn * wide) + wide * np.exp(turn * (1.0 - wide)), dtype=np.complex128)


def _blur(blend: Blend, frequency_hz: FloatArray) -> ComplexArray:
    """The mean over the ride of what the interpolation did, shape (F,)."""
    known = np.flatnonzero(np.isfinite(blend.since_s) & np.isfinite(blend.until_s))
    if known.size == 0:
        return np.ones(frequency_hz.size, dtype=np.complex128)
    picked = known[np.linspace(0, known.size - 1, min(known.size, BLENDS_SAMPLED)).astype(np.int64)]
    spacing_s = blend.since_s[picked] + blend.until_s[picked]
    share = np.divide(blend.since_s[picked], spacing_s, out=np.zeros_like(spacing_s), where=spacing_s > 0)
    return np.asarray(blend_transfer(share, frequency_hz, spacing_s).mean(axis=0), dtype=np.complex128)


def _usual_spacing_s(*blends: Blend | None) -> float:
    """The spacing of samples that three in four are below, of the meter with the wider ones; 1 at least."""
    spacings_s = [blend.since_s + blend.until_s for blend in blends if blend is not None]
    return max([1.0] + [float(np.nanpercentile(item, 75)) for item in spacings_s if np.any(np.isfinite(item))])


def _bridged(series: FloatArray) -> tuple[FloatArray, BoolArray]:
    """``series`` with all gaps bridged by straight lines, and which seconds lay in gaps too long to trust that."""
    present = np.isfinite(series)
    if present.all() or not present.any():
        return np.where(present, series, 0.0), ~present
    seconds = np.arange(series.size)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], ~present, [False])).astype(np.int8)))
    missing = ~present
    for start, end in edges.reshape(-1, 2):
        if end - start <= FILLED_S and start > 0 and end < series.size:
            missing[start:end] = False
    return np.interp(seconds, seconds[present], series[present]), missing


def _usable_starts(lost: BoolArray, length: int) -> IntArray:
    """Where stretches of ``length`` start, each overlapping the one before by half or less, round what is missing."""
    if lost.size < length:
        return np.empty(0, dtype=np.int64)
    lost_before = np.concatenate(([0], np.cumsum(lost)))
    usable = np.flatnonzero(lost_before[length:] - lost_before[:-length] <= SPOILT_SHARE * length)
    starts: list[int] = []
    place = 0
    while place < usable.size:
        starts.append(int(usable[place]))
        place = int(np.searchsorted(usable, starts[-1] + length // 2))
    return np.array(starts, dtype=np.int64)


def _grouped(
    stretches: tuple[ComplexArray, ComplexArray],
    coarse_lag_s: int,
    reference_blend: Blend | None,
    unit_blend: Blend | None,
) -> Spectra:
    """From transforms of every stretch, shape (S, length//2 + 1), to spectra in groups of frequencies."""
    reference, unit = stretches
    length = 2 * (reference.shape[1] - 1)
    apart_s = _usual_spacing_s(reference_blend, unit_blend)
    highest = int((HIGHEST_HZ if apart_s <= CLOSE_S else HIGHEST_OF_WIDE / apart_s) * length)
    used = slice(LOWEST_BIN, max(LOWEST_BIN + FEWEST_BINS, highest + 1))
    bin_hz = (np.arange(length // 2 + 1) / length)[used]
    levels = 4.0 * np.sin(np.pi * bin_hz) ** 2
    first_bin = _group_starts(bin_hz.size)
    sizes = np.diff(np.append(first_bin, bin_hz.size))

    def grouped(values: NDArray[Any]) -> NDArray[Any]:
        return np.asarray(np.add.reduceat(values[:, used] / levels, first_bin, axis=1) / sizes)

    group_hz = np.add.reduceat(bin_hz, first_bin) / sizes
    prompt = np.ones(bin_hz.size, dtype=np.complex128)
    turns = np.exp(-2j * np.pi * np.outer(np.arange(length), bin_hz))
    return Spectra(
        reference=grouped(np.abs(reference) ** 2),
        unit=grouped(np.abs(unit) ** 2),
        cross=grouped(unit * reference.conj()),
        coarse_lag_s=coarse_lag_s,
        length_s=length,
        bin_hz=bin_hz,
        first_bin=first_bin,
        worth=OVERLAP_WORTH * sizes,
        group_hz=group_hz,
        group_turns=np.asarray(np.add.reduceat(turns, first_bin, axis=1) / sizes, dtype=np.complex128),
        reference_blur=prompt if reference_blend is None else _blur(reference_blend, bin_hz),
        unit_blur=None if unit_blend is None else _blur(unit_blend, bin_hz),
        spacing_s=apart_s,
    )


def _peak_lag_s(reference: ComplexArray, unit: ComplexArray) -> int:
    """The whole seconds by which the unit trails the reference where their changes correlate best."""
    length = 2 * (reference.shape[1] - 1)
    size = np.maximum(np.sum(np.abs(unit) ** 2, axis=1, keepdims=True), 1e-9)
    cross = np.mean(unit * reference.conj() / np.sqrt(size), axis=0)
    correlation = np.fft.irfft(cross, length)
    lag_s = np.arange(length)
    lag_s[lag_s > length // 2] -= length
    allowed = (lag_s >= EARLIEST_LAG_S) & (lag_s <= LATEST_LAG_S)
    correlation = correlation * (1.0 - np.abs(lag_s) / NEARER_BY_S)
    return int(lag_s[np.argmax(np.where(allowed, correlation, -np.inf))])


def _group_starts(bins: int) -> IntArray:
    """Single bins where the frequency is low and the response turns fast with it, up to four together higher up."""
    starts = [0]
    while (following := starts[-1] + min(4, 1 + starts[-1] // 6)) < bins:
        starts.append(following)
    return np.array(starts, dtype=np.int64)
