"""The families of responses at each frequency, and what two meters that saw one effort should then show.

One effort, with a spectrum S that differs from frequency to frequency and is not modelled, reaches both meters. The
model of their spectral matrix is ``S*v*v^H + N``: ``v`` holds both meters' transfer functions (one of them is prompt,
since only their difference can be seen), the diagonal ``N`` their own noise. So noise of the reference weakens what both
have in common at high frequency without being taken for a smoothing of the unit: errors in both variables, one
frequency at a time (Levin 1964, IEEE Trans. Autom. Control 9:50, states the problem; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np

from wattwitness.clock.response_spectra import ComplexArray, Spectra, blend_transfer
from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import ResponseKind

QUANTISATION_W2 = 1.0 / 12.0
"""Variance of rounding to whole watts: the least noise either meter can have."""
WANDER_HZ = 0.005
"""Below this the wander of a bias is as strong at every frequency; above it falls with the square of frequency."""
SHAPE_STEP = 1e-3


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
    """A kind of kernel on one of the two meters. With ``PROMPT`` both are, and there is no kernel nor noise before it."""

    kind: ResponseKind
    smoother: Smoother

    def name(self, shape_s: float) -> str:
        """Such as ``unit mean 5.0 s``."""
        if self.kind is ResponseKind.PROMPT:
            return "both prompt"
        return f"{self.smoother.value} {self.kind.value} {shape_s:.1f} s"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """Spectral matrices of B parameter sets in G groups, and their derivatives.

    ``reference_gain`` and ``unit_gain``: v, shape (B, G); ``reference_noise`` and ``unit_noise``: N, shape (B, G);
    ``d_...``: their derivatives by each of the 8 parameters, shape (B, 8, G).
    """

    reference_gain: ComplexArray
    unit_gain: ComplexArray
    reference_noise: FloatArray
    unit_noise: FloatArray
    d_reference_gain: ComplexArray
    d_unit_gain: ComplexArray
    d_reference_noise: FloatArray
    d_unit_noise: FloatArray


def transfer(kind: ResponseKind, shape_s: FloatArray, frequency_hz: FloatArray) -> ComplexArray:
    """Transfer functions of the kernels in `wattwitness.clock.kernels`, turned back by their mean lag.

    ``shape_s`` has shape (B,), ``frequency_hz`` (F,); returns (B, F).
    """
    turn = np.exp(-2j * np.pi * frequency_hz)[np.newaxis, :]
    if kind is ResponseKind.PROMPT:
        return np.ones((shape_s.size, frequency_hz.size), dtype=np.complex128)
    back = np.exp(2j * np.pi * lag_s(kind, shape_s)[:, np.newaxis] * frequency_hz)
    if kind is ResponseKind.MEAN:
        width_s = shape_s[:, np.newaxis]
        whole = np.floor(width_s)
        oldest = np.exp(-2j * np.pi * frequency_hz * whole)
        response = ((1.0 - oldest) / (1.0 - turn) + (width_s - whole) * oldest) / width_s
    else:
        decay = np.exp(-1.0 / shape_s)[:, np.newaxis]
        response = (1.0 - decay) / (1.0 - decay * turn)
    return np.asarray(response * back, dtype=np.complex128)


def lag_s(kind: ResponseKind, shape_s: FloatArray) -> FloatArray:
    """Mean lag in s of each kernel, shape as ``shape_s``."""
    if kind is ResponseKind.MEAN:
        whole = np.floor(shape_s)
        return np.asarray((whole * (whole - 1.0) / 2.0 + (shape_s - whole) * whole) / shape_s, dtype=np.float64)
    if kind is ResponseKind.EXPONENTIAL:
        decay = np.exp(-1.0 / shape_s)
        return np.asarray(decay / (1.0 - decay), dtype=np.float64)
    return np.zeros_like(shape_s)


def model(spectra: Spectra, family: Family, parameters: FloatArray) -> Model:
    """What ``family`` with ``parameters`` (shape (B, 8)) expects of ``spectra``."""
    sets, groups = parameters.shape[0], spectra.first_bin.size
    group_hz = spectra.group_hz
    kernel, kernel_power, d_kernel, d_kernel_power = _kernel(spectra, family, parameters)
    mixed, d_mixed = _unit_blur(spectra, parameters)
    mixed_power, d_mixed_power = np.abs(mixed) ** 2, 2.0 * np.real(d_mixed * mixed.conj())
    gain = np.exp(parameters[:, Parameter.GAIN, np.newaxis])
    lag = np.exp(-2j * np.pi * group_hz * parameters[:, Parameter.LAG_S, np.newaxis])
    reference_blur = spectra.grouped(spectra.reference_blur)
    unit_gain, reference_gain = gain * mixed * lag, np.broadcast_to(reference_blur, (sets, groups))
    d_unit_gain = np.zeros((sets, len(Parameter), groups), dtype=np.complex128)
    d_reference_gain = np.zeros_like(d_unit_gain)
    if family.smoother is Smoother.UNIT:
        d_unit_gain[:, Parameter.SHAPE] = unit_gain * d_kernel
        unit_gain = unit_gain * kernel
    else:
        d_reference_gain[:, Parameter.SHAPE] = reference_gain * d_kernel
        reference_gain = reference_gain * kernel
    d_unit_gain[:, Parameter.LAG_S] = -2j * np.pi * group_hz * unit_gain
    d_unit_gain[:, Parameter.GAIN] = unit_gain
    d_unit_gain[:, Parameter.BLEND] = unit_gain * d_mixed / mixed
    prompt, early, late, wander = np.moveaxis(np.exp(parameters[:, Parameter.PROMPT_NOISE :, np.newaxis]), 1, 0)
    if family.kind is ResponseKind.PROMPT:
        early = np.zeros_like(early)
    slow = wander / (4.0 * np.sin(np.pi * group_hz) ** 2 + (2.0 * np.pi * WANDER_HZ) ** 2)
    d_smooth_noise = np.zeros((sets, len(Parameter), groups))
    d_prompt_noise = np.zeros_like(d_smooth_noise)
    smooth_noise = early * kernel_power + late
    d_smooth_noise[:, Parameter.SHAPE] = early * d_kernel_power
    d_smooth_noise[:, Parameter.EARLY_NOISE] = early * kernel_power
    d_smooth_noise[:, Parameter.LATE_NOISE] = late
    prompt_noise = np.broadcast_to(prompt, (sets, groups))
    d_prompt_noise[:, Parameter.PROMPT_NOISE] = prompt
    unit_is_smooth = family.smoother is Smoother.UNIT
    unit_noise, d_unit_noise = (smooth_noise, d_smooth_noise) if unit_is_smooth else (prompt_noise, d_prompt_noise)
    reference_noise, d_reference_noise = (
        (prompt_noise, d_prompt_noise) if unit_is_smooth else (smooth_noise, d_smooth_noise)
    )
    d_unit_noise[:, Parameter.WANDER] = slow
    d_unit_noise *= mixed_power[:, np.newaxis]
    d_unit_noise[:, Parameter.BLEND] = (unit_noise + slow) * d_mixed_power
    return Model(
        reference_gain=reference_gain,
        unit_gain=unit_gain,
        reference_noise=reference_noise + QUANTISATION_W2,
        unit_noise=(unit_noise + slow) * mixed_power + QUANTISATION_W2,
        d_reference_gain=d_reference_gain,
        d_unit_gain=d_unit_gain,
        d_reference_noise=d_reference_noise,
        d_unit_noise=d_unit_noise,
    )


def _kernel(
    spectra: Spectra, family: Family, parameters: FloatArray
) -> tuple[ComplexArray, FloatArray, ComplexArray, FloatArray]:
    """The kernel and its squared size in each group, shape (B, G), and their derivatives by the log of its shape."""
    sets = parameters.shape[0]
    shape = parameters[:, Parameter.SHAPE]
    around = np.exp(np.concatenate((shape, shape + SHAPE_STEP, shape - SHAPE_STEP)))
    response = transfer(family.kind, around, spectra.bin_hz)
    kernel = spectra.grouped(response).reshape(3, sets, -1)
    power = spectra.grouped(np.abs(response) ** 2).reshape(3, sets, -1)
    return (
        kernel[0],
        power[0],
        (kernel[1] - kernel[2]) / (2.0 * SHAPE_STEP),
        (power[1] - power[2]) / (2.0 * SHAPE_STEP),
    )


def _unit_blur(spectra: Spectra, parameters: FloatArray) -> tuple[ComplexArray, ComplexArray]:
    """What interpolation did to the unit, shape (B, G), and its derivative by the log odds of the blend."""
    if spectra.unit_blur is not None:
        known = np.broadcast_to(spectra.grouped(spectra.unit_blur), (parameters.shape[0], spectra.first_bin.size))
        return known, np.zeros_like(known)
    share = 1.0 / (1.0 + np.exp(-parameters[:, Parameter.BLEND]))
    group_hz = spectra.group_hz
    step = 1e-4
    slope = (blend_transfer(share + step, group_hz) - blend_transfer(share - step, group_hz)) / (2.0 * step)
    return blend_transfer(share, group_hz), slope * (share * (1.0 - share))[:, np.newaxis]
