"""The most likely parameters of a response family, and how sure they are.

Whittle's likelihood of the two meters' spectral matrices (Whittle 1953, Ark. Mat. 2:423; from memory), maximised by
Fisher scoring with the effort's own spectrum profiled out in each group of frequencies; many starting points at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.response_families import Family, Model, Parameter, lag_s, model
from wattwitness.clock.response_spectra import ComplexArray, Spectra
from wattwitness.model.arrays import FloatArray
from wattwitness.model.response import ResponseKind

SHORTEST_S = {ResponseKind.PROMPT: 0.1, ResponseKind.MEAN: 1.01, ResponseKind.EXPONENTIAL: 0.15}
LONGEST_S = {ResponseKind.PROMPT: 100.0, ResponseKind.MEAN: 45.0, ResponseKind.EXPONENTIAL: 40.0}
FURTHEST_LAG_S = 6.0
"""The mean lag lies no further from the peak of the correlation than this or one and a half times itself."""
SETTLED = 3e-3
"""A step that gains less (in minus log likelihood) is the last."""
LARGEST_STEP = np.array([0.5, 2.0, 0.5, 1.0, 2.0, 2.0, 2.0, 2.0])
"""By parameter: what the quadratic picture of the likelihood is trusted for."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Matrices:
    """Mean spectral matrices of B samples of stretches: shape (B, G), and ``worth`` (B, G) independent values each."""

    reference: FloatArray
    unit: FloatArray
    cross: ComplexArray
    worth: FloatArray

    @classmethod
    def weighted(cls, spectra: Spectra, weights: FloatArray) -> Matrices:
        """The means under each row of ``weights``, shape (B, S)."""
        total = weights.sum(axis=1)
        share = weights / total[:, np.newaxis]
        effective = total**2 / np.sum(weights**2, axis=1)
        return cls(
            reference=share @ spectra.reference,
            unit=share @ spectra.unit,
            cross=share @ spectra.cross,
            worth=effective[:, np.newaxis] * spectra.worth,
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """Loose normal priors that keep what the data do not tell from running away; a small spread fixes a parameter.

    ``centre`` has shape (8,) or (B, 8), ``spread`` (8,).
    """

    centre: FloatArray
    spread: FloatArray


def prior_for(data: Matrices, *, blend_known: bool) -> Prior:
    """Priors from the highest frequencies, where noise shows most, of the first of ``data``."""
    upper = slice(data.reference.shape[1] // 2, None)
    reference = np.log(max(float(np.median(data.reference[0, upper])), 0.05))
    unit = np.log(max(float(np.median(data.unit[0, upper])), 0.05))
    centre = np.array([1.5, 0.0, 0.0, -2.0, reference - 1.0, reference - 1.0, unit - 1.0, unit - 6.0])
    spread = np.array([20.0, 30.0, 3.0, 2.0, 4.0, 4.0, 4.0, 4.0])
    if blend_known:
        spread[Parameter.BLEND] = 1e-3
    return Prior(centre=centre, spread=spread)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Evaluation:
    """Value of the objective (B,), and gradient (B, 8) and expected second derivatives (B, 8, 8) where asked for."""

    value: FloatArray
    gradient: FloatArray
    information: FloatArray


def evaluate(spectra: Spectra, data: Matrices, family: Family, prior: Prior, parameters: FloatArray) -> _Evaluation:
    """Minus the logarithm of likelihood and prior at ``parameters`` (shape (B, 8)), and how it bends there."""
    expected = model(spectra, family, parameters, data.reference, data.unit)
    effort, value = _profiled_effort(expected, data)
    columns, by_effort, misfit = _whitened(expected, effort, data)
    length = np.sum(by_effort**2, axis=2)
    along = np.sum(columns * by_effort[:, np.newaxis], axis=3) / np.where(length > 0, length, 1.0)[:, np.newaxis]
    free = (effort > 0)[:, np.newaxis]
    columns = columns - np.where(free, along, 0.0)[..., np.newaxis] * by_effort[:, np.newaxis]
    weighted = columns * data.worth[:, np.newaxis, :, np.newaxis]
    gradient = -np.einsum("bpgk,bgk->bp", weighted, misfit)
    flat = columns.reshape(*columns.shape[:2], -1)
    information = weighted.reshape(flat.shape) @ flat.transpose(0, 2, 1)
    away = (parameters - prior.centre) / prior.spread
    return _Evaluation(
        value=np.sum(data.worth * value, axis=1) + 0.5 * np.sum(away**2, axis=1),
        gradient=gradient + away / prior.spread,
        information=information + np.diag(prior.spread**-2.0),
    )


def objective(spectra: Spectra, data: Matrices, family: Family, prior: Prior, parameters: FloatArray) -> FloatArray:
    """Minus the logarithm of likelihood and prior at ``parameters`` (shape (B, 8)); shape (B,)."""
    expected = model(spectra, family, parameters, data.reference, data.unit)
    _, value = _profiled_effort(expected, data)
    away = (parameters - prior.centre) / prior.spread
    return np.asarray(np.sum(data.worth * value, axis=1) + 0.5 * np.sum(away**2, axis=1), dtype=np.float64)


def _profiled_effort(expected: Model, data: Matrices) -> tuple[FloatArray, FloatArray]:
    """The most likely spectrum of the effort and minus the log likelihood there, each of shape (B, G)."""
    noise_r, noise_u = expected.reference.noise, expected.unit.noise
    signal = np.abs(expected.reference.gain) ** 2 / noise_r + np.abs(expected.unit.gain) ** 2 / noise_u
    seen = (
        np.abs(expected.reference.gain / noise_r) ** 2 * data.reference
        + np.abs(expected.unit.gain / noise_u) ** 2 * data.unit
        + 2.0 * np.real(expected.unit.gain.conj() * expected.reference.gain * data.cross) / (noise_r * noise_u)
    )
    effort = np.maximum((seen / signal - 1.0) / signal, 0.0)
    value = (
        np.log(noise_r)
        + np.log(noise_u)
        + np.log1p(effort * signal)
        + data.reference / noise_r
        + data.unit / noise_u
        - effort / (1.0 + effort * signal) * seen
    )
    return effort, value


def _whitened(expected: Model, effort: FloatArray, data: Matrices) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Derivatives by each parameter (B, 8, G, 4), by the effort (B, G, 4) and the misfit (B, G, 4).

    Each Hermitian matrix, seen in units of the modelled one, as four real numbers whose plain product is the trace.
    """
    gain_r, gain_u = expected.reference.gain, expected.unit.gain
    matrix_r = effort * np.abs(gain_r) ** 2 + expected.reference.noise
    matrix_u = effort * np.abs(gain_u) ** 2 + expected.unit.noise
    matrix_c = effort * gain_u * gain_r.conj()
    root = 1.0 / np.sqrt(matrix_r)
    tilt = matrix_c / matrix_r
    rest = 1.0 / np.sqrt(np.maximum(matrix_u - np.abs(matrix_c) ** 2 / matrix_r, 1e-12))

    def seen(r: FloatArray, u: FloatArray, c: ComplexArray, *, by_parameter: bool) -> FloatArray:
        scale, slope, last = ((x[:, np.newaxis] if by_parameter else x) for x in (root, tilt, rest))
        off = scale * last * (c - slope * r)
        return np.stack(
            (
                scale**2 * r,
                last**2 * (u - 2.0 * np.real(slope * c.conj()) + np.abs(slope) ** 2 * r),
                np.sqrt(2.0) * off.real,
                np.sqrt(2.0) * off.imag,
            ),
            axis=-1,
        )

    strength = effort[:, np.newaxis]
    wide_r, wide_u = gain_r[:, np.newaxis], gain_u[:, np.newaxis]
    columns = seen(
        strength * 2.0 * np.real(expected.reference.d_gain * wide_r.conj()) + expected.reference.d_noise,
        strength * 2.0 * np.real(expected.unit.d_gain * wide_u.conj()) + expected.unit.d_noise,
        strength * (expected.unit.d_gain * wide_r.conj() + wide_u * expected.reference.d_gain.conj()),
        by_parameter=True,
    )
    by_effort = seen(np.abs(gain_r) ** 2, np.abs(gain_u) ** 2, gain_u * gain_r.conj(), by_parameter=False)
    misfit = seen(data.reference - matrix_r, data.unit - matrix_u, data.cross - matrix_c, by_parameter=False)
    return columns, by_effort, misfit


def misfit_by_stretch(spectra: Spectra, family: Family, parameters: FloatArray) -> FloatArray:
    """How far each stretch is from the relation between the meters, in units of their noise, shape (S,).

    ``parameters`` has shape (8,). What the effort was drops out.
    """
    expected = model(
        spectra,
        family,
        parameters[np.newaxis],
        spectra.reference.mean(axis=0)[np.newaxis],
        spectra.unit.mean(axis=0)[np.newaxis],
    )
    gain_r, gain_u = expected.reference.gain[0], expected.unit.gain[0]
    squared = (
        np.abs(gain_r) ** 2 * spectra.unit
        + np.abs(gain_u) ** 2 * spectra.reference
        - 2.0 * np.real(gain_r * gain_u.conj() * spectra.cross)
    )
    noise = np.abs(gain_r) ** 2 * expected.unit.noise[0] + np.abs(gain_u) ** 2 * expected.reference.noise[0]
    return np.asarray((squared / noise) @ spectra.worth / spectra.worth.sum(), dtype=np.float64)


def cost_by_stretch(spectra: Spectra, data: Matrices, family: Family, parameters: FloatArray) -> FloatArray:
    """Minus the log likelihood of each stretch, shape (S,), under ``parameters`` (shape (8,)) and the effort of all."""
    expected = model(spectra, family, parameters[np.newaxis], data.reference, data.unit)
    effort, _ = _profiled_effort(expected, data)
    gain_r, gain_u = expected.reference.gain[0], expected.unit.gain[0]
    matrix_r = effort[0] * np.abs(gain_r) ** 2 + expected.reference.noise[0]
    matrix_u = effort[0] * np.abs(gain_u) ** 2 + expected.unit.noise[0]
    matrix_c = effort[0] * gain_u * gain_r.conj()
    determinant = np.maximum(matrix_r * matrix_u - np.abs(matrix_c) ** 2, 1e-12)
    trace = (
        matrix_u * spectra.reference + matrix_r * spectra.unit - 2.0 * np.real(matrix_c.conj() * spectra.cross)
    ) / determinant
    return np.asarray((np.log(determinant) + trace) @ spectra.worth, dtype=np.float64)


def maximise(
    spectra: Spectra,
    data: Matrices,
    family: Family,
    prior: Prior,
    start: FloatArray,
    *,
    most_steps: int,
) -> tuple[FloatArray, FloatArray]:
    """Walk downhill from each row of ``start`` (shape (B, 8)); returns parameters (B, 8) and objective (B,)."""
    parameters = start.copy()
    damping = np.full(start.shape[0], 1e-2)
    here = evaluate(spectra, data, family, prior, parameters)
    for _ in range(most_steps):
        trial = _bounded(family, parameters + _step(here, damping))
        there = evaluate(spectra, data, family, prior, trial)
        gained = here.value - there.value
        better = gained > 0
        parameters = np.where(better[:, np.newaxis], trial, parameters)
        here = _Evaluation(
            value=np.where(better, there.value, here.value),
            gradient=np.where(better[:, np.newaxis], there.gradient, here.gradient),
            information=np.where(better[:, np.newaxis, np.newaxis], there.information, here.information),
        )
        damping = np.where(better, damping * 0.1, np.maximum(damping, 1e-3) * 10.0)
        if np.all((np.abs(gained) < SETTLED) | (damping > 1e5)):
            break
    return parameters, here.value


def _step(here: _Evaluation, damping: FloatArray) -> FloatArray:
    """The damped scoring step (Marquardt's scaling), shape (B, 8), no entry beyond the largest step."""
    diagonal = np.einsum("bii->bi", here.information)
    damped = here.information + damping[:, np.newaxis, np.newaxis] * (
        diagonal[:, :, np.newaxis] * np.eye(diagonal.shape[1])
    )
    step = -np.linalg.solve(damped, here.gradient[..., np.newaxis])[..., 0]
    return np.clip(step, -LARGEST_STEP, LARGEST_STEP)


def _bounded(family: Family, parameters: FloatArray) -> FloatArray:
    """Keep shape and lag inside what the kernels can be."""
    kind = family.kind
    parameters[:, Parameter.SHAPE] = np.clip(
        parameters[:, Parameter.SHAPE], np.log(SHORTEST_S[kind]), np.log(LONGEST_S[kind])
    )
    reach_s = np.maximum(FURTHEST_LAG_S, 1.5 * lag_s(kind, np.exp(parameters[:, Parameter.SHAPE])))
    parameters[:, Parameter.LAG_S] = np.clip(parameters[:, Parameter.LAG_S], -reach_s, reach_s)
    return parameters
