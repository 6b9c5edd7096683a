"""How surely a fitted response's shape and delay are known."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.response_families import Family, Parameter, Smoother, lag_s
from wattwitness.clock.response_scoring import Matrices, Prior, evaluate, maximise
from wattwitness.clock.response_search import PROMPT, Evidence, Fitted, starts
from wattwitness.clock.response_spectra import Spectra
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate

JACKKNIFE_BLOCKS = 20
JACKKNIFE_STEPS, PROFILE_STEPS = 4, 10
LEAST_ERROR_S = 0.035
"""Standard uncertainty, in spacings of samples, that no fit falls below: a kernel on a grid is a rough picture."""
NEARLY_AS_LIKELY = 2.5
"""A shape this little worse (in minus log likelihood) than the best belongs to the interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """A value with its standard uncertainty and degrees of freedom; ``logarithmic``: the uncertainty is of its log.

    ``plausible``: further values that are nearly as likely, lowest and highest; the interval holds them too.
    """

    value: float
    standard: float
    freedom: float
    logarithmic: bool = False
    plausible: tuple[float, float] | None = None

    def widened(self, other_s: float) -> Uncertain:
        """With another standard uncertainty of its own added."""
        return replace(self, standard=float(np.hypot(self.standard, np.nan_to_num(other_s))))

    def estimate(self, level: float) -> Estimate:
        """The interval by Student's t, in seconds."""
        from scipy.special import stdtrit

        reach = float(stdtrit(self.freedom, 0.5 + level / 2.0)) * self.standard
        low, high = self.value - reach, self.value + reach
        if self.logarithmic:
            low, high = self.value * float(np.exp(-reach)), self.value * float(np.exp(min(reach, 50.0)))
        if self.plausible is not None:
            low, high = min(low, self.plausible[0]), max(high, self.plausible[1])
        return Estimate(value=self.value, low=low, high=high, unit="s", level=level)


def trailing_s(spectra: Spectra, family: Family, parameters: FloatArray) -> FloatArray:
    """How far the unit trails the reference beyond the kernels' mean lags in s; ``parameters`` (B, 8), returns (B,)."""
    kernel_lag_s = lag_s(family.kind, np.exp(parameters[:, Parameter.SHAPE]))
    total_s = spectra.coarse_lag_s + parameters[:, Parameter.LAG_S]
    return np.asarray(total_s - kernel_lag_s if family.smoother is Smoother.UNIT else total_s + kernel_lag_s)


def uncertainties(evidence: Evidence, fit: Fitted) -> tuple[Uncertain, Uncertain]:
    """Shape and trailing of ``fit``.

    Their standard uncertainties are the larger of the block jackknife's (Kuensch 1989, Ann. Stat. 17:1217; from
    memory) and the likelihood's own, joined with what kernels on whole seconds allow.
    """
    spectra = evidence.spectra
    blocks = min(JACKKNIFE_BLOCKS, spectra.stretches)
    block = np.arange(spectra.stretches) * blocks // spectra.stretches
    left_out = np.where(block == np.arange(blocks)[:, np.newaxis], 0.0, evidence.weights)
    left_out = left_out[left_out.sum(axis=1) > 0]
    start = np.tile(fit.parameters, (left_out.shape[0], 1))
    without = Matrices.weighted(spectra, left_out)
    parameters, _ = maximise(spectra, without, fit.family, evidence.prior, start, most_steps=JACKKNIFE_STEPS)
    seen = np.stack((parameters[:, Parameter.SHAPE], trailing_s(spectra, fit.family, parameters)), axis=1)
    count = seen.shape[0]
    jackknife = np.sqrt((count - 1) / count * np.sum((seen - seen.mean(axis=0)) ** 2, axis=0))
    errors = np.maximum(jackknife, _likelihood_errors(evidence, fit))
    trailing = float(trailing_s(spectra, fit.family, fit.parameters[np.newaxis])[0])
    freedom = float(max(count - 1, 1))
    least_error_s = LEAST_ERROR_S * spectra.spacing_s
    shape_error = float(np.hypot(errors[0], least_error_s / fit.shape_s))
    return (
        Uncertain(value=fit.shape_s, standard=shape_error, freedom=freedom, logarithmic=True),
        Uncertain(value=trailing, standard=float(np.hypot(errors[1], least_error_s)), freedom=freedom),
    )


def plausible_shapes_s(evidence: Evidence, fit: Fitted) -> tuple[float, float]:
    """Lowest and highest shape in s that is nearly as likely as that of ``fit``, other peaks of the likelihood too."""
    start = starts(evidence, fit.family)
    from_fit = np.tile(fit.parameters, (start.shape[0], 1))
    from_fit[:, Parameter.SHAPE] = start[:, Parameter.SHAPE]
    start = np.concatenate((start, from_fit))
    centre, spread = np.tile(evidence.prior.centre, (start.shape[0], 1)), evidence.prior.spread.copy()
    centre[:, Parameter.SHAPE], spread[Parameter.SHAPE] = start[:, Parameter.SHAPE], 1e-3
    fixed = Prior(centre=centre, spread=spread)
    parameters, values = maximise(evidence.spectra, evidence.data, fit.family, fixed, start, most_steps=PROFILE_STEPS)
    likely = values < min(fit.value, float(values.min())) + NEARLY_AS_LIKELY
    shapes_s = np.append(np.exp(parameters[likely, Parameter.SHAPE]), fit.shape_s)
    return float(shapes_s.min()), float(shapes_s.max())


def _likelihood_errors(evidence: Evidence, fit: Fitted) -> FloatArray:
    """Standard errors of log shape and trailing from the bend of the likelihood, shape (2,)."""
    here = evaluate(evidence.spectra, evidence.data, fit.family, evidence.prior, fit.parameters[np.newaxis])
    covariance = np.linalg.inv(here.information[0])
    slope = np.zeros((2, len(Parameter)))
    slope[1, Parameter.LAG_S] = 1.0
    if fit.family != PROMPT:
        around = np.tile(fit.parameters, (2, 1))
        around[:, Parameter.SHAPE] += np.array([1e-3, -1e-3])
        above_s, below_s = trailing_s(evidence.spectra, fit.family, around)
        slope[0, Parameter.SHAPE] = 1.0
        slope[1, Parameter.SHAPE] = (above_s - below_s) / 2e-3
    return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", slope, covariance, slope)), dtype=np.float64)
