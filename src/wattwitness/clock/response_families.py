"""The families of responses at each frequency, and what two meters that saw one effort should then show.

One effort, with a spectrum S that differs from frequency to frequency and is not modelled, reaches both meters. The
model of their spectral matrix is ``S*v*v^H + N``: ``v`` holds both meters' transfer functions (one of them is prompt,
since only their difference can be seen), the diagonal ``N`` their own noise. So noise of the reference weakens what
both have in common at high frequency without being taken for a smoothing of the unit: errors in both variables, one
frequency at a time (Levin 1964, IEEE Trans. Autom. Control 9:50, states the problem; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np

from wattwitness.clock.response_spectra import ComplexArray, Spectra, blend_transfer, taper_overlap
from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import ResponseKind

LEAST_NOISE_W2 = 0.02
"""Noise that every meter has after all: a quarter of what rounding to whole watts makes."""
WANDER_HZ = 0.005
"""Below this the wander of a bias is as strong at every frequency; above it falls with the square of frequency."""
SHAPE_STEP = 1e-3
TAIL_TAUS = 8.0


class Smoother(StrEnum):
    """Which of the two meters is smoothed relative to the other."""

    UNIT = "unit"
    REFERENCE = "reference"


class Parameter(IntEnum):
    """Columns of a parameter array.

    ``SHAPE``: log of width or time constant in s. ``LAG_S``: how far the unit trails beyond the coarse lag, kernels'
    mean lags included. ``GAIN``: log of unit over reference. ``BLEND``: log odds of the share of the later sample where
    the unit was interpolated in an unknown way. The noises are logs of W^2 a bin: that of the prompt meter, of the
    smoothed one before and after its kernel, and of the unit's slow wander.
    """

    SHAPE = 0
    LAG_S = 1
    GAIN = 2
    BLEND = 3
    PROMPT_NOISE = 4
    EARLY_NOISE = 5
    LATE_NOISE = 6
    WANDER = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A kind of kernel on one of the two meters. With ``PROMPT`` there is no kernel, and no noise before it."""

    kind: ResponseKind
    smoother: Smoother

    def name(self, shape_s: float) -> str:
        """Such as ``unit mean 5.0 s``."""
        if self.kind is ResponseKind.PROMPT:
            return "both prompt"
        return f"{self.smoother.value} {self.kind.value} {shape_s:.1f} s"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeterModel:
    """One meter in B parameter sets and G groups: its entries of v and of N, shape (B, G).

    The derivatives by each of the 8 parameters have shape (B, 8, G).
    """

    gain: ComplexArray
    noise: FloatArray
    d_gain: ComplexArray
    d_noise: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """What both meters should show."""

    reference: MeterModel
    unit: MeterModel


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Kernel:
    """A kernel in each group, shape (B, G).

    ``gain``: its transfer function as a stretch of finite length shows it, turned back by its mean lag; ``power``: its
    squared size; ``lost``: the part of that which a stretch does not show in both meters; derivatives by log shape.
    """

    gain: ComplexArray
    power: FloatArray
    lost: FloatArray
    d_gain: ComplexArray
    d_power: FloatArray


def kernel_weights(kind: ResponseKind, shape_s: FloatArray, length: int) -> FloatArray:
    """The kernels of `wattwitness.clock.kernels`, newest first, for shapes (B,); returns (B, length)."""
    tap = np.arange(length, dtype=np.float64)
    if kind is ResponseKind.MEAN:
        return np.asarray(np.clip(shape_s[:, np.newaxis] - tap, 0.0, 1.0) / shape_s[:, np.newaxis], dtype=np.float64)
    decay = np.exp(-1.0 / shape_s)[:, np.newaxis]
    return np.asarray((1.0 - decay) * decay**tap, dtype=np.float64)


def lag_s(kind: ResponseKind, shape_s: FloatArray) -> FloatArray:
    """Mean lag in s of each kernel, shape as ``shape_s``."""
    if kind is ResponseKind.MEAN:
        whole = np.floor(shape_s)
        return np.asarray((whole * (whole - 1.0) / 2.0 + (shape_s - whole) * whole) / shape_s, dtype=np.float64)
    if kind is ResponseKind.EXPONENTIAL:
        decay = np.exp(-1.0 / shape_s)
        return np.asarray(decay / (1.0 - decay), dtype=np.float64)
    return np.zeros_like(shape_s)


def model(
    spectra: Spectra,
    family: Family,
    parameters: FloatArray,
    reference_w2: FloatArray,
    unit_w2: FloatArray,
) -> Model:
    """What ``family`` with ``parameters`` (shape (B, 8)) expects of ``spectra``.

    ``reference_w2`` and ``unit_w2``, shape (B, G) or (1, G), are the spectra seen: what a long kernel spreads beyond a
    stretch counts as noise of the smoothed meter, in proportion to them.
    """
    reference, unit = _prompt_reference(spectra, parameters), _prompt_unit(spectra, parameters)
    squared_gain = np.exp(2.0 * parameters[:, Parameter.GAIN, np.newaxis])
    if family.kind is ResponseKind.PROMPT:
        reference = _with_noise(reference, parameters, Parameter.PROMPT_NOISE)
        unit = _with_noise(unit, parameters, Parameter.LATE_NOISE)
    elif family.smoother is Smoother.UNIT:
        kernel = _kernel(spectra, family, parameters)
        reference = _with_noise(reference, parameters, Parameter.PROMPT_NOISE)
        unit = _smoothed(unit, kernel, parameters, kernel.lost * squared_gain * reference_w2)
    else:
        kernel = _kernel(spectra, family, parameters)
        unit = _with_noise(unit, parameters, Parameter.PROMPT_NOISE)
        reference = _smoothed(reference, kernel, parameters, kernel.lost / squared_gain * unit_w2)
    return Model(
        reference=_through_grid(reference, spectra.reference_blur, spectra, parameters),
        unit=_through_grid(_with_wander(unit, spectra, parameters), spectra.unit_blur, spectra, parameters),
    )


def _prompt_reference(spectra: Spectra, parameters: FloatArray) -> MeterModel:
    """The reference without noise."""
    shape = (parameters.shape[0], spectra.first_bin.size)
    wide = (shape[0], len(Parameter), shape[1])
    return MeterModel(
        gain=np.ones(shape, dtype=np.complex128),
        noise=np.zeros(shape),
        d_gain=np.zeros(wide, dtype=np.complex128),
        d_noise=np.zeros(wide),
    )


def _prompt_unit(spectra: Spectra, parameters: FloatArray) -> MeterModel:
    """The unit with its gain and lag, without noise."""
    turn = -2j * np.pi * spectra.group_hz
    gain = np.exp(parameters[:, Parameter.GAIN, np.newaxis] + turn * parameters[:, Parameter.LAG_S, np.newaxis])
    d_gain = np.zeros((gain.shape[0], len(Parameter), gain.shape[1]), dtype=np.complex128)
    d_gain[:, Parameter.LAG_S] = turn * gain
    d_gain[:, Parameter.GAIN] = gain
    return MeterModel(gain=gain, noise=np.zeros(gain.shape), d_gain=d_gain, d_noise=np.zeros(d_gain.shape))


def _through_grid(meter: MeterModel, blur: ComplexArray | None, spectra: Spectra, parameters: FloatArray) -> MeterModel:
    """As samples came onto the grid, noise too; then the least noise. A blur that is not known is a parameter."""
    d_gain, d_noise = meter.d_gain, meter.d_noise
    if blur is None:
        share = 1.0 / (1.0 + np.exp(-parameters[:, Parameter.BLEND]))
        transfer = blend_transfer(share, spectra.group_hz)
        step = 1e-4
        odds = (share * (1.0 - share) / step)[:, np.newaxis]
        slope = (blend_transfer(share + step, spectra.group_hz) - transfer) * odds
        d_gain[:, Parameter.BLEND] = meter.gain * slope / transfer
        d_noise[:, Parameter.BLEND] = 2.0 * meter.noise * np.real(slope / transfer)
        power = np.abs(transfer) ** 2
    else:
        transfer = np.broadcast_to(spectra.grouped(blur), meter.gain.shape)
        power = np.broadcast_to(spectra.grouped(np.abs(blur) ** 2), meter.gain.shape)
    return MeterModel(
        gain=meter.gain * transfer,
        noise=meter.noise * power + LEAST_NOISE_W2,
        d_gain=d_gain * transfer[:, np.newaxis],
        d_noise=d_noise * power[:, np.newaxis],
    )


def _kernel(spectra: Spectra, family: Family, parameters: FloatArray) -> _Kernel:
    """The kernel of every parameter set as stretches of finite length show it."""
    sets = parameters.shape[0]
    shape = parameters[:, Parameter.SHAPE]
    around = np.exp(np.concatenate((shape, shape + SHAPE_STEP, shape - SHAPE_STEP)))
    reach = around.max() + 2.0 if family.kind is ResponseKind.MEAN else TAIL_TAUS * around.max() + 2.0
    length = int(min(reach, spectra.length_s))
    weights = kernel_weights(family.kind, around, length)
    mean_lag_s = lag_s(family.kind, around)
    trailing_s = np.tile(parameters[:, Parameter.LAG_S], 3) * (1.0 if family.smoother is Smoother.UNIT else -1.0)
    seen = taper_overlap(np.arange(length) - (mean_lag_s - trailing_s)[:, np.newaxis], spectra.length_s)
    back = np.exp(2j * np.pi * np.outer(mean_lag_s, spectra.group_hz))
    whole = _at_groups(weights, spectra)
    shown = _at_groups(weights * seen, spectra) * back
    lost = np.maximum(np.abs(whole[:sets]) ** 2 - np.abs(shown[:sets]) ** 2, 0.0)
    power = np.abs(whole) ** 2
    gains, powers = shown.reshape(3, sets, -1), power.reshape(3, sets, -1)
    return _Kernel(
        gain=gains[0],
        power=powers[0],
        lost=lost,
        d_gain=(gains[1] - gains[2]) / (2.0 * SHAPE_STEP),
        d_power=(powers[1] - powers[2]) / (2.0 * SHAPE_STEP),
    )


def _at_groups(weights: FloatArray, spectra: Spectra) -> ComplexArray:
    """Transfer functions, shape (B, G), of kernels of shape (B, length), newest first.

    Real and imaginary part one after the other: products this small are slower on many threads than on one, and stay on
    one only below a size.
    """
    turns = spectra.group_turns[: weights.shape[1]]
    return np.asarray(weights @ turns.real + 1j * (weights @ turns.imag), dtype=np.complex128)


def _with_noise(meter: MeterModel, parameters: FloatArray, which: Parameter) -> MeterModel:
    """With noise that is as strong at every frequency."""
    noise = np.exp(parameters[:, which, np.newaxis])
    meter.d_noise[:, which] += noise
    return MeterModel(gain=meter.gain, noise=meter.noise + noise, d_gain=meter.d_gain, d_noise=meter.d_noise)


def _smoothed(meter: MeterModel, kernel: _Kernel, parameters: FloatArray, lost: FloatArray) -> MeterModel:
    """Through the kernel, with noise from before and after it."""
    d_gain = meter.d_gain * kernel.gain[:, np.newaxis]
    d_gain[:, Parameter.SHAPE] = meter.gain * kernel.d_gain
    early = np.exp(parameters[:, Parameter.EARLY_NOISE, np.newaxis])
    d_noise = meter.d_noise
    d_noise[:, Parameter.SHAPE] += early * kernel.d_power
    d_noise[:, Parameter.EARLY_NOISE] += early * kernel.power
    smoothed = MeterModel(
        gain=meter.gain * kernel.gain,
        noise=meter.noise + early * kernel.power + lost,
        d_gain=d_gain,
        d_noise=d_noise,
    )
    return _with_noise(smoothed, parameters, Parameter.LATE_NOISE)


def _with_wander(meter: MeterModel, spectra: Spectra, parameters: FloatArray) -> MeterModel:
    """With the slow wander of the unit's bias."""
    slow = np.exp(parameters[:, Parameter.WANDER, np.newaxis]) / (
        4.0 * np.sin(np.pi * spectra.group_hz) ** 2 + (2.0 * np.pi * WANDER_HZ) ** 2
    )
    meter.d_noise[:, Parameter.WANDER] += slow
    return MeterModel(gain=meter.gain, noise=meter.noise + slow, d_gain=meter.d_gain, d_noise=meter.d_noise)
