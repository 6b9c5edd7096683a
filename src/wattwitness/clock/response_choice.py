"""Which response family two powers show, with what shape and delay, and how surely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.response_families import Family, Parameter, Smoother, lag_s
from wattwitness.clock.response_scoring import (
    Matrices,
    Prior,
    evaluate,
    maximise,
    misfit_by_stretch,
    objective,
    prior_for,
)
from wattwitness.clock.response_spectra import Spectra
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.response import ResponseKind

PROMPT = Family(kind=ResponseKind.PROMPT, smoother=Smoother.UNIT)
SMOOTH = tuple(
    Family(kind=kind, smoother=smoother)
    for smoother in Smoother
    for kind in (ResponseKind.MEAN, ResponseKind.EXPONENTIAL)
)
STARTS_S = {
    ResponseKind.MEAN: (1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8, 9, 10.5, 12, 14, 16, 19, 22, 26, 30),
    ResponseKind.EXPONENTIAL: (0.7, 1.2, 2, 3, 4.5, 7, 11, 17, 27),
}
LAG_SHARES = {ResponseKind.MEAN: (-0.9, -0.5, 0.0, 0.5, 0.9), ResponseKind.EXPONENTIAL: (0.0, 0.3, 0.6, 0.9)}
"""Where a kernel's mean lag may lie beyond the peak of the correlation, as a share of that lag."""
BLEND_STARTS = np.array([-1.0, 2.0, 3.0])
HOPELESS = 300.0
"""A family this far behind the best (in minus log likelihood) after the first steps is not refined."""
SHORTEST_SMOOTH_S = {ResponseKind.MEAN: 1.6, ResponseKind.EXPONENTIAL: 0.35}
"""Less smoothing than this is within what sampling at whole seconds does: called prompt."""
CONTRAST_S = 3.0
"""Where the data cannot tell a prompt meter from a mean over this long, the response is not assessed."""
CONTRAST = 4.0
"""How much less likely (minus log likelihood) that mean has to be."""
JACKKNIFE_BLOCKS = 20
LEAST_ERROR_S = 0.05
"""Standard uncertainty that no fit falls below: kernels on whole seconds are only so good a picture of a display."""
SIZE_LIMIT = 5.0
MISFIT_LIMIT = 2.0
LEAST_WEIGHT = 0.01
FAULTY_WEIGHT = 0.2
REWEIGHTED = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Uncertain:
    """A value with its standard uncertainty and degrees of freedom; ``logarithmic``: the uncertainty is of its log."""

    value: float
    standard: float
    freedom: float
    logarithmic: bool = False

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
        return Estimate(value=self.value, low=low, high=high, unit="s", level=level)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The family chosen. ``shape_s``: width or time constant (``None`` where prompt); ``trailing_s``: how far the unit
    trails the reference beyond both kernels' mean lags; ``criterion`` of every family tried, lower is better.
    """

    family: Family
    shape_s: Uncertain | None
    trailing_s: Uncertain
    criterion: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fitted:
    family: Family
    parameters: FloatArray
    value: float

    @property
    def shape_s(self) -> float:
        """Width or time constant."""
        return float(np.exp(self.parameters[Parameter.SHAPE]))

    @property
    def size(self) -> int:
        """How many parameters it has; those that all families have alike are counted too."""
        return len(Parameter) - (2 if self.family == PROMPT else 0)


def choose(spectra: Spectra) -> Choice | None:
    """The most likely family and its parameters; ``None`` where the effort cannot tell.

    Stretches in which the unit departs from what it does otherwise (a fault) show in a first fit, and get less weight
    from then on.
    """
    weights = _weights_by_size(spectra)
    data = Matrices.weighted(spectra, weights[np.newaxis])
    prior = prior_for(data, blend_known=spectra.unit_blur is not None)
    fits = _searched(spectra, data, prior)
    for _ in range(REWEIGHTED):
        weights = _weights_by_misfit(spectra, min(fits, key=_value))
        data = Matrices.weighted(spectra, weights[np.newaxis])
        if np.any(weights < FAULTY_WEIGHT):
            prior = prior_for(data, blend_known=spectra.unit_blur is not None)
            fits = _searched(spectra, data, prior)
        else:
            best = min(fit.value for fit in fits)
            fits = [
                _walked(
                    spectra,
                    data,
                    prior,
                    fit.family,
                    fit.parameters[np.newaxis],
                    most_steps=2 if fit.value > best + HOPELESS else 30,
                )
                for fit in fits
            ]
    chosen = _decided(spectra, data, prior, fits)
    if chosen is None:
        return None
    shape_s, trailing_s = _uncertainties(spectra, data, prior, weights, chosen)
    worth = float(data.worth.sum())
    return Choice(
        family=chosen.family,
        shape_s=None if chosen.family == PROMPT else shape_s,
        trailing_s=trailing_s,
        criterion=tuple((fit.family.name(fit.shape_s), 2.0 * fit.value + fit.size * np.log(worth)) for fit in fits),
    )


def _value(fit: _Fitted) -> float:
    return fit.value


def _searched(spectra: Spectra, data: Matrices, prior: Prior) -> list[_Fitted]:
    """Every family fitted from many starting points; one far behind after the first steps is left at that."""
    roughly: list[tuple[Family, FloatArray, FloatArray]] = []
    for family in (PROMPT, *SMOOTH):
        start = _starts(spectra, data, prior, family)
        parameters, values = maximise(spectra, data, family, prior, start, most_steps=3)
        first = np.argsort(values)[:2]
        roughly.append((family, parameters[first], values[first]))
    best = min(float(values[0]) for _, _, values in roughly)
    return [
        _walked(spectra, data, prior, family, parameters, most_steps=3 if values[0] > best + HOPELESS else 30)
        for family, parameters, values in roughly
    ]


def _walked(
    spectra: Spectra, data: Matrices, prior: Prior, family: Family, start: FloatArray, most_steps: int = 30
) -> _Fitted:
    """The best that is reached from the rows of ``start``."""
    parameters, values = maximise(spectra, data, family, prior, start, most_steps=most_steps)
    best = int(np.argmin(values))
    return _Fitted(family=family, parameters=parameters[best], value=float(values[best]))


def _starts(spectra: Spectra, data: Matrices, prior: Prior, family: Family) -> FloatArray:
    """Starting points, shape (B, 8): every shape of the family with the lag that suits it best, or every blend.

    The gain is that seen at low frequency.
    """
    if family == PROMPT:
        start = np.tile(prior.centre, (len(BLEND_STARTS), 1))
        start[:, Parameter.BLEND] += BLEND_STARTS
    else:
        shares = LAG_SHARES[family.kind]
        shapes_s = np.repeat(STARTS_S[family.kind], len(shares))
        beyond_s = np.tile(shares, len(STARTS_S[family.kind])) * lag_s(family.kind, shapes_s)
        start = np.tile(prior.centre, (shapes_s.size, 1))
        start[:, Parameter.SHAPE] = np.log(shapes_s)
        start[:, Parameter.LAG_S] = beyond_s if family.smoother is Smoother.UNIT else -beyond_s
    low = slice(0, 4)
    start[:, Parameter.GAIN] = 0.5 * np.log(data.unit[0, low].sum() / data.reference[0, low].sum())
    if family == PROMPT:
        return start
    values = objective(spectra, data, family, prior, start).reshape(-1, len(shares))
    return np.asarray(
        start.reshape(values.shape[0], len(shares), -1)[np.arange(values.shape[0]), values.argmin(axis=1)]
    )


def _decided(spectra: Spectra, data: Matrices, prior: Prior, fits: Sequence[_Fitted]) -> _Fitted | None:
    """The family to believe; ``None`` where the effort cannot tell prompt from smooth, or which meter is the smooth one.

    A smooth family has to pay for its two parameters more (Schwarz 1978, Ann. Stat. 6:461, eq. 1: log of the number of
    independent values each, halved here as the value is that of the likelihood itself).
    """
    prompt = next(fit for fit in fits if fit.family == PROMPT)
    smooth = [fit for fit in fits if fit.family != PROMPT and fit.shape_s >= SHORTEST_SMOOTH_S[fit.family.kind]]
    price = 0.5 * np.log(float(data.worth.sum()))
    if smooth:
        best = min(smooth, key=_value)
        if best.value + (best.size - prompt.size) * price < prompt.value:
            other = [fit.value for fit in smooth if fit.family.smoother is not best.family.smoother]
            return best if min(other, default=np.inf) - best.value >= CONTRAST else None
    for smoother in Smoother:
        contrast = _at_contrast(spectra, data, prior, prompt, smoother)
        if contrast.value - prompt.value < CONTRAST:
            return None
    return prompt


def _at_contrast(spectra: Spectra, data: Matrices, prior: Prior, prompt: _Fitted, smoother: Smoother) -> _Fitted:
    """The best that a mean over ``CONTRAST_S`` on one of the meters can do."""
    family = Family(kind=ResponseKind.MEAN, smoother=smoother)
    centre, spread = prior.centre.copy(), prior.spread.copy()
    centre[Parameter.SHAPE], spread[Parameter.SHAPE] = np.log(CONTRAST_S), 1e-4
    start = np.tile(prompt.parameters, (2, 1))
    start[:, Parameter.SHAPE] = np.log(CONTRAST_S)
    start[1, Parameter.EARLY_NOISE :] = prior.centre[Parameter.EARLY_NOISE :]
    return _walked(spectra, data, Prior(centre=centre, spread=spread), family, start)


def _uncertainties(
    spectra: Spectra, data: Matrices, prior: Prior, weights: FloatArray, fit: _Fitted
) -> tuple[Uncertain, Uncertain]:
    """Shape and trailing with standard uncertainties: the larger of the block jackknife's (Kuensch 1989, Ann. Stat.
    17:1217; from memory) and the likelihood's own, and of what kernels on whole seconds allow.
    """
    blocks = min(JACKKNIFE_BLOCKS, spectra.stretches)
    block = np.arange(spectra.stretches) * blocks // spectra.stretches
    left_out = np.where(block == np.arange(blocks)[:, np.newaxis], 0.0, weights)
    left_out = left_out[left_out.sum(axis=1) > 0]
    start = np.tile(fit.parameters, (left_out.shape[0], 1))
    parameters, _ = maximise(spectra, Matrices.weighted(spectra, left_out), fit.family, prior, start, most_steps=4)
    seen = np.stack((parameters[:, Parameter.SHAPE], _trailing_s(spectra, fit.family, parameters)), axis=1)
    count = seen.shape[0]
    jackknife = np.sqrt((count - 1) / count * np.sum((seen - seen.mean(axis=0)) ** 2, axis=0))
    likelihood = _likelihood_errors(spectra, data, prior, fit)
    errors = np.maximum(jackknife, likelihood)
    trailing_s = float(_trailing_s(spectra, fit.family, fit.parameters[np.newaxis])[0])
    freedom = float(max(count - 1, 1))
    return (
        Uncertain(
            value=fit.shape_s,
            standard=float(np.hypot(errors[0], LEAST_ERROR_S / fit.shape_s)),
            freedom=freedom,
            logarithmic=True,
        ),
        Uncertain(value=trailing_s, standard=float(np.hypot(errors[1], LEAST_ERROR_S)), freedom=freedom),
    )


def _likelihood_errors(spectra: Spectra, data: Matrices, prior: Prior, fit: _Fitted) -> FloatArray:
    """Standard errors of log shape and trailing from the bend of the likelihood, shape (2,)."""
    here = evaluate(spectra, data, fit.family, prior, fit.parameters[np.newaxis])
    covariance = np.linalg.inv(here.information[0])
    slope = np.zeros((2, len(Parameter)))
    slope[0, Parameter.SHAPE] = 1.0
    slope[1, Parameter.LAG_S] = 1.0
    around = np.tile(fit.parameters, (2, 1))
    around[:, Parameter.SHAPE] += np.array([1e-3, -1e-3])
    slope[1, Parameter.SHAPE] = np.diff(_trailing_s(spectra, fit.family, around)[::-1])[0] / 2e-3
    if fit.family == PROMPT:
        slope[:, Parameter.SHAPE] = 0.0
    return np.asarray(np.sqrt(np.einsum("ij,jk,ik->i", slope, covariance, slope)), dtype=np.float64)


def _trailing_s(spectra: Spectra, family: Family, parameters: FloatArray) -> FloatArray:
    """How far the unit trails beyond the kernels' mean lags, shape (B,)."""
    kernel_lag_s = lag_s(family.kind, np.exp(parameters[:, Parameter.SHAPE]))
    total_s = spectra.coarse_lag_s + parameters[:, Parameter.LAG_S]
    return np.asarray(total_s - kernel_lag_s if family.smoother is Smoother.UNIT else total_s + kernel_lag_s)


def _weights_by_size(spectra: Spectra) -> FloatArray:
    """Weights of the stretches, shape (S,): a stretch with far more change than most, such as a spike, counts less."""
    size = (spectra.unit * spectra.worth).sum(axis=1)
    usual = float(np.median(size))
    return np.asarray(np.clip(SIZE_LIMIT * usual / np.maximum(size, 1e-9), LEAST_WEIGHT, 1.0))


def _weights_by_misfit(spectra: Spectra, fit: _Fitted) -> FloatArray:
    """Weights of the stretches, shape (S,): one that the fit explains worse than most counts less."""
    misfit = misfit_by_stretch(spectra, fit.family, fit.parameters)
    usual = float(np.median(misfit))
    return np.asarray(np.clip(MISFIT_LIMIT * usual / np.maximum(misfit, 1e-9), LEAST_WEIGHT, 1.0))
