"""Every response family fitted to two meters' spectra, from many starting points, faults given little weight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.clock.response_families import Family, Parameter, Smoother, lag_s
from wattwitness.clock.response_scoring import Matrices, Prior, maximise, misfit_by_stretch, objective, prior_for
from wattwitness.clock.response_spectra import Spectra
from wattwitness.model.arrays import FloatArray
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
FIRST_STEPS, MOST_STEPS, LEFT_STEPS = 3, 20, 2
HOPELESS = 300.0
"""A family this far behind the best (in minus log likelihood) after the first steps is not refined."""
SIZE_LIMIT = 5.0
"""A stretch whose changes are more than so many times the usual counts less."""
MISFIT_LIMIT = 2.0
"""A stretch that fits more than so many times worse than usual counts less."""
LEAST_WEIGHT = 0.01
FAULTY_WEIGHT = 0.2
SAME_WEIGHT = 0.1
REWEIGHTED = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A family at its most likely parameters, shape (8,), and minus the log of its likelihood and prior there."""

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """The spectra, the weight of each stretch, shape (S,), their weighted mean and the priors that go with it."""

    spectra: Spectra
    weights: FloatArray
    data: Matrices
    prior: Prior

    @classmethod
    def weighted(cls, spectra: Spectra, weights: FloatArray) -> Evidence:
        """The evidence under ``weights``."""
        data = Matrices.weighted(spectra, weights[np.newaxis])
        prior = prior_for(data, blend_known=spectra.unit_blur is not None)
        return cls(spectra=spectra, weights=weights, data=data, prior=prior)


def fit_families(spectra: Spectra) -> tuple[Evidence, tuple[Fitted, ...]]:
    """Fit every family, the prompt one first.

    Stretches in which the unit departs from what it does otherwise (a fault) show in a first fit, and get less weight
    from then on.
    """
    evidence = Evidence.weighted(spectra, _weights_by_size(spectra))
    fits = _searched(evidence)
    for _ in range(REWEIGHTED):
        best = min(fits, key=minus_log_likelihood)
        weights = _weights_by_misfit(spectra, best)
        if np.max(np.abs(weights - evidence.weights)) < SAME_WEIGHT:
            break
        evidence = Evidence.weighted(spectra, weights)
        if np.any(evidence.weights < FAULTY_WEIGHT):
            fits = _searched(evidence)
            continue
        fits = tuple(
            walked(
                evidence,
                fit.family,
                fit.parameters[np.newaxis],
                most_steps=LEFT_STEPS if fit.value > best.value + HOPELESS else MOST_STEPS,
            )
            for fit in fits
        )
    return evidence, fits


def minus_log_likelihood(fit: Fitted) -> float:
    """For sorting: lower is more likely."""
    return fit.value


def walked(
    evidence: Evidence,
    family: Family,
    start: FloatArray,
    *,
    prior: Prior | None = None,
    most_steps: int = MOST_STEPS,
) -> Fitted:
    """The best that is reached from the rows of ``start``, shape (B, 8)."""
    parameters, values = maximise(
        evidence.spectra, evidence.data, family, prior or evidence.prior, start, most_steps=most_steps
    )
    best = int(np.argmin(values))
    return Fitted(family=family, parameters=parameters[best], value=float(values[best]))


def starts(evidence: Evidence, family: Family) -> FloatArray:
    """Starting points, shape (B, 8): every shape of the family with the lag that suits it best, or every blend.

    The gain is that seen at low frequency.
    """
    gain = 0.5 * np.log(evidence.data.unit[0, :4].sum() / evidence.data.reference[0, :4].sum())
    if family == PROMPT:
        start = np.tile(evidence.prior.centre, (BLEND_STARTS.size, 1))
        start[:, Parameter.BLEND] += BLEND_STARTS
        start[:, Parameter.GAIN] = gain
        return start
    shares, kinds = LAG_SHARES[family.kind], len(STARTS_S[family.kind])
    shapes_s = np.repeat(STARTS_S[family.kind], len(shares))
    beyond_s = np.tile(shares, kinds) * lag_s(family.kind, shapes_s)
    start = np.tile(evidence.prior.centre, (shapes_s.size, 1))
    start[:, Parameter.SHAPE] = np.log(shapes_s)
    start[:, Parameter.LAG_S] = beyond_s if family.smoother is Smoother.UNIT else -beyond_s
    start[:, Parameter.GAIN] = gain
    values = objective(evidence.spectra, evidence.data, family, evidence.prior, start).reshape(kinds, -1)
    return np.asarray(start.reshape(kinds, len(shares), -1)[np.arange(kinds), values.argmin(axis=1)])


def _searched(evidence: Evidence) -> tuple[Fitted, ...]:
    """Every family fitted from all its starting points; one far behind after the first steps is left at that."""
    roughly: list[tuple[Family, FloatArray, float]] = []
    for family in (PROMPT, *SMOOTH):
        parameters, values = maximise(
            evidence.spectra,
            evidence.data,
            family,
            evidence.prior,
            starts(evidence, family),
            most_steps=FIRST_STEPS,
        )
        first = np.argsort(values)[:2]
        roughly.append((family, parameters[first], float(values[first[0]])))
    best = min(value for _, _, value in roughly)
    return tuple(
        walked(evidence, family, parameters, most_steps=LEFT_STEPS if value > best + HOPELESS else MOST_STEPS)
        for family, parameters, value in roughly
    )


def _weights_by_size(spectra: Spectra) -> FloatArray:
    """Weights of the stretches, shape (S,): a stretch with far more change than most, such as a spike, counts less."""
    size = (spectra.unit * spectra.worth).sum(axis=1)
    usual = float(np.median(size))
    return np.asarray(np.clip(SIZE_LIMIT * usual / np.maximum(size, 1e-9), LEAST_WEIGHT, 1.0))


def _weights_by_misfit(spectra: Spectra, fit: Fitted) -> FloatArray:
    """Weights of the stretches, shape (S,): one that the fit explains worse than most counts less."""
    misfit = misfit_by_stretch(spectra, fit.family, fit.parameters)
    usual = float(np.median(misfit))
    return np.asarray(np.clip(MISFIT_LIMIT * usual / np.maximum(misfit, 1e-9), LEAST_WEIGHT, 1.0))
