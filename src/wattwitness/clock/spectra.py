"""What the windows say of both series by frequency, and the weighting under which their delay is read best."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wattwitness.clock.windows import Windows
from wattwitness.model.arrays import FloatArray

ComplexArray = NDArray[np.complex128]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spectra:
    """At ``hz`` (F,): power of both sides (F,), of each window's cross-spectrum (W, F), and the step of frequency.

    ``freedom``: how many independent Fourier coefficients of the ride stand behind each of ``hz``.
    """

    hz: FloatArray
    power_a: FloatArray
    power_b: FloatArray
    cross: ComplexArray
    freedom: float


def spectra(windows: Windows, highest_hz: float) -> Spectra:
    """Transform the windows' correlations (Blackman & Tukey 1958), tapered by a Hann lag window."""
    reach = windows.reach
    lags = np.arange(-reach, reach + 1)
    step = 0.5 / reach
    hz = np.arange(1, round(min(highest_hz, 0.5) / step) + 1) * step
    taper = 0.5 * (1 + np.cos(np.pi * lags / (reach + 1)))
    turn = np.exp(-2j * np.pi * np.outer(lags, hz))
    pairs = max(float(windows.count[:, reach].sum()), 1.0)
    # Windows keep their share of the pairs; lags without pairs are made up for by those that have them.
    filled = windows.count.sum(axis=0)
    gain = np.divide(pairs, filled, out=np.zeros_like(filled), where=filled > 0)
    floor = 1e-4
    power_a = np.real((windows.own_a * taper) @ turn)
    power_b = np.real((windows.own_b * taper) @ turn)
    return Spectra(
        hz=hz,
        power_a=np.maximum(power_a, floor * power_a.max(initial=1e-12)),
        power_b=np.maximum(power_b, floor * power_b.max(initial=1e-12)),
        cross=((windows.cross * gain / pairs) * taper) @ turn,
        freedom=float(windows.samples) * step,
    )


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
    Trans. Acoust. Speech Signal Process. 24:320-327, from memory)."""
    shared = coherence(of, cross)
    size = np.maximum(np.abs(cross), 1e-3 * np.abs(cross).max(initial=1e-12))
    return np.asarray(shared / (1 - shared) / np.maximum(size, np.sqrt(of.power_a * of.power_b) * 0.02))
