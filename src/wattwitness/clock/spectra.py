"""What the windows say of both series by frequency, and the weighting under which their delay is read best."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wattwitness.clock.windows import Windows
from wattwitness.model.arrays import FloatArray

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectra:
    """At ``hz`` (F,): power of both sides (F,) and each window's share of the cross-spectrum (W, F).

    ``freedom``: how many independent Fourier coefficients of the ride stand behind each of ``hz``.
    """

    hz: FloatArray
    power_a: FloatArray
    power_b: FloatArray
    cross: ComplexArray
    freedom: float


def spectra(windows: Windows, highest_hz: float) -> Spectra:
    """Transform the windows' correlations under a Hann lag window (Blackman & Tukey 1958, from memory).

    A lag at which few samples pair (both sides sparse) is made up for by its neighbours in proportion.
    """
    reach = windows.reach
    count = max(windows.samples, 1)
    pairs = windows.pairs.sum(axis=0)
    gain = np.divide(count, pairs, out=np.zeros_like(pairs), where=pairs > 0.02 * count)
    used = int(min(highest_hz, 0.5) * 2 * reach + 1e-9) + 1
    power_a, power_b = (
        np.real(_transformed(own.sum(axis=0) / count))[1:used] for own in (windows.own_a, windows.own_b)
    )
    return Spectra(
        hz=np.arange(1, used, dtype=np.float64) / (2 * reach),
        power_a=np.maximum(power_a, 1e-3 * power_a.max(initial=1e-12)),
        power_b=np.maximum(power_b, 1e-3 * power_b.max(initial=1e-12)),
        cross=_transformed(windows.cross * np.minimum(gain, 3.0) / count)[:, 1:used],
        freedom=count / (2 * reach),
    )


def _transformed(correlation: FloatArray) -> ComplexArray:
    """Σ over lags k = -K..K (last axis) of taper·correlation·exp(-2πi·f·k), at f = 0, 1/2K, 2/2K ... 1/2."""
    reach = (correlation.shape[-1] - 1) // 2
    lags = np.arange(-reach, reach + 1)
    tapered = correlation * (0.5 * (1 + np.cos(np.pi * lags / (reach + 1))))
    around = np.roll(tapered[..., :-1], -reach, axis=-1)
    around[..., reach] += tapered[..., -1]
    return np.asarray(np.fft.rfft(around, axis=-1))


def summed_cross(of: Spectra, delay_s: FloatArray) -> ComplexArray:
    """The cross-spectrum of the whole ride, shape (F,), each window moved back by its ``delay_s`` (W,)."""
    return np.asarray((of.cross * np.exp(2j * np.pi * np.outer(delay_s, of.hz))).sum(axis=0))


def coherence(of: Spectra, cross: ComplexArray) -> FloatArray:
    """Squared coherence at each frequency, shape (F,), less what chance gives it, smoothed over three frequencies."""
    raw = np.abs(cross) ** 2 / (of.power_a * of.power_b)
    chance = 1.0 / max(of.freedom * 1.5, 4.0)
    clean = np.clip((raw - chance) / (1 - chance), 0.0, 0.995)
    padded = np.pad(clean, 1, mode="edge")
    return np.asarray((padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4)


def best_weights(of: Spectra, cross: ComplexArray) -> FloatArray:
    """Weight of each frequency, shape (F,): γ²/(1 - γ²)/|S|, the maximum likelihood one (Knapp CH, Carter GC 1976, IEEE
    Trans. Acoust. Speech Signal Process. 24:320-327, from memory).
    """
    shared = coherence(of, cross)
    size = np.maximum(np.abs(cross), 1e-3 * np.abs(cross).max(initial=1e-12))
    return np.asarray(shared / (1 - shared) / np.maximum(size, np.sqrt(of.power_a * of.power_b) * 0.02))


def unfolded(
    of: Spectra, delay_s: FloatArray, *, differenced: bool, share: float = 1.0, strength: bool = False
) -> Spectra:
    """Turn each window's cross-spectrum back by what sampling once a second did to its phase.

    Variation faster than 0.5 Hz folds back. Where the two sides sample at different moments, a fraction d of a second
    apart, the folded part comes in with another phase: the phase at f is off by the angle of
    1 + r·exp(2πi·d) + r'·exp(-2πi·d), with r and r' the power at 1 - f and 1 + f over that at f. The spectrum beyond
    what is seen is taken as the power law fitted from 0.06 to 0.25 Hz. ``delay_s``: the lag beyond whole seconds (W,).
    ``share``: how much of it there is; a meter that shows the mean of each second folds far less than one that samples
    instants. ``strength``: also make up for what the folded part takes off the size, which would look like smoothing.
    """
    cross = np.abs(summed_cross(of, delay_s))
    if differenced:
        cross = cross / difference_power(of.hz)
    fitted = (of.hz >= 0.06) & (of.hz <= 0.25) & (cross > 0)
    if fitted.sum() < 4:
        return of
    falls = -float(np.polyfit(np.log(of.hz[fitted]), np.log(cross[fitted]), 1)[0])
    falls = min(max(falls, 1.5), 6.0)
    below, above = share * ((1 - of.hz) / of.hz) ** -falls, share * ((1 + of.hz) / of.hz) ** -falls
    turn = np.exp(2j * np.pi * delay_s)[:, None]
    folded = 1 + below * turn + above * np.conj(turn)
    size = np.abs(folded)
    turned = of.cross * np.conj(folded) / size
    if strength:
        turned *= (1 + below + above) / np.maximum(size, LEAST_LEFT)
    return replace(of, cross=turned)


LEAST_LEFT = 0.3
"""What folding left of the size is made up for down to this."""


def difference_power(hz: FloatArray) -> FloatArray:
    """Power gain of taking differences from second to second, at ``hz``."""
    return np.asarray(4 * np.sin(np.pi * hz) ** 2)


def undifferenced(of: Spectra, cross: ComplexArray, lowest_hz: float) -> tuple[Spectra, ComplexArray]:
    """The spectra of the values behind differences, from ``lowest_hz`` on."""
    kept = of.hz >= lowest_hz
    power = difference_power(of.hz[kept])
    return (
        Spectra(
            hz=of.hz[kept],
            power_a=of.power_a[kept] / power,
            power_b=of.power_b[kept] / power,
            cross=of.cross[:, kept] / power,
            freedom=of.freedom,
        ),
        cross[kept] / power,
    )
