"""Is it the same every day: mean bias, spread between rides, and what the next observed ride will read."""

from __future__ import annotations

import numpy as np

from wattwitness.conformity.probability import student_quantile
from wattwitness.conformity.spread import spread_quantile
from wattwitness.model.arrays import FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.model.study import RandomEffects
from wattwitness.study.effects import Between, between_variance, pooled
from wattwitness.study.ride_errors import drawn_together

ONE_RIDE = "one_ride"
NO_RIDE = "no_ride"


def random_effects(
    bias: FloatArray, standard_error: FloatArray, degrees: FloatArray, *, level: float = 0.95
) -> RandomEffects:
    """Mean, spread and next observed ride from k rides (k,), percent; nothing is assessed of fewer than two.

    The mean's interval is Hartung and Knapp's, never narrower than the rides' own errors allow. The next ride's is
    Student's t with k - 1 degrees of freedom on the same scale, so that rides of equal error give the exact interval
    for one more draw, whatever part of the scatter lies between rides. The spread's interval is that of the
    generalised Q statistic (see ``conformity.spread``).
    """
    count = bias.size
    if count < 2:
        slug = NO_RIDE if count == 0 else ONE_RIDE
        missing = Estimate.missing(slug, "%", level)
        return RandomEffects(
            rides=count,
            mean_bias_pct=_one(bias, standard_error, degrees, level) if count else missing,
            between_ride_sd_pct=missing,
            paule_mandel_sd_pct=None,
            next_ride_pct=missing,
            variance_share=Estimate.missing(slug, "1", level),
        )
    variance, known = drawn_together(standard_error**2, degrees)
    between = between_variance(bias, variance, Between.RESTRICTED_LIKELIHOOD)
    mandel = between_variance(bias, variance, Between.PAULE_MANDEL)
    mean, following = _mean_and_next(bias, variance, mandel, level)
    errors, together, usual = np.sqrt(variance), float(known.max()), float(variance.mean())
    low, high = (spread_quantile(0.5 + side * level / 2, bias, errors, together) for side in (-1, 1))
    spread = between**0.5
    return RandomEffects(
        rides=count,
        mean_bias_pct=mean,
        between_ride_sd_pct=Estimate(value=spread, low=min(low, spread), high=max(high, spread), unit="%", level=level),
        paule_mandel_sd_pct=mandel**0.5,
        next_ride_pct=following,
        variance_share=_share(between, low, high, usual, level),
    )


def next_ride(
    bias: FloatArray, standard_error: FloatArray, degrees: FloatArray, *, level: float
) -> tuple[Estimate, Estimate]:
    """Mean and next observed ride alone, as ``random_effects`` has them of two rides or more, and in far less time."""
    variance, _ = drawn_together(standard_error**2, degrees)
    return _mean_and_next(bias, variance, between_variance(bias, variance, Between.PAULE_MANDEL), level)


def _mean_and_next(bias: FloatArray, variance: FloatArray, between: float, level: float) -> tuple[Estimate, Estimate]:
    over = pooled(bias, variance, between)
    factor = float(student_quantile(0.5 + level / 2, bias.size - 1))
    error = over.standard_error * max(over.scale, 1.0) ** 0.5
    next_sd = (over.scale * (between + float(variance.mean())) + over.hartung_knapp**2) ** 0.5
    return _around(over.mean, factor * error, level), _around(over.mean, factor * next_sd, level)


def _one(bias: FloatArray, standard_error: FloatArray, degrees: FloatArray, level: float) -> Estimate:
    """One ride's own bias and interval."""
    factor = float(student_quantile(0.5 + level / 2, float(degrees[0])))
    return _around(float(bias[0]), factor * float(standard_error[0]), level)


def _around(value: float, half: float, level: float) -> Estimate:
    return Estimate(value=value, low=value - half, high=value + half, unit="%", level=level)


def _share(between: float, low: float, high: float, usual: float, level: float) -> Estimate:
    """Part of an observed ride's variance that lies between rides."""
    value, least, most = (part / max(part + usual, 1e-300) for part in (between, low**2, high**2))
    return Estimate(value=value, low=min(least, value), high=max(most, value), unit="1", level=level)
