"""Spread between and within groups: one-way analysis of variance and the components it gives."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class OneWay:
    """One-way analysis of variance of J groups with N values in all.

    ``between_square`` (MSB) has ``between_degrees`` = J - 1, ``within_square`` (MSW) ``within_degrees`` = N - J
    degrees of freedom; MSW is NaN where no group holds two values. ``between_variance`` is the component between
    groups, (MSB - MSW) / m0, as computed: it may be negative. ``mean`` is that of all values.
    """

    mean: float
    groups: int
    values: int
    between_square: float
    within_square: float
    between_degrees: int
    within_degrees: int
    f_ratio: float
    between_variance: float
    r_squared: float

    @property
    def mean_uncertainty(self) -> tuple[float, float]:
        """Standard uncertainty of the mean and its degrees of freedom.

        Where groups differ by more than their values do (F > 1) it is that of J group means, else that of all values
        pooled: JCGM 100:2008, H.5.2.4 and H.5.2.5, with the comparison of F at 1 so that doubt widens the answer.
        """
        if self.between_degrees > 0 and not self.f_ratio <= 1:
            return math.sqrt(self.between_square / self.values), float(self.between_degrees)
        total = self.between_degrees + self.within_degrees
        squares = self.within_square * self.within_degrees
        squares += self.between_square * self.between_degrees if self.between_degrees else 0.0
        return math.sqrt(squares / total / self.values), float(total)


def one_way(groups: Sequence[FloatArray]) -> OneWay:
    """Analyse ``groups``, each of shape (n_j,) with n_j >= 1. Raises ValueError with fewer than two values in all.

    JCGM 100:2008, H.5.2 (equations H.25 to H.28) for groups of equal size; with unequal ones the component uses
    m0 = (N - sum n_j^2 / N) / (J - 1).
    """
    sizes = np.array([group.size for group in groups])
    total, count = int(sizes.sum()), len(groups)
    if total < 2 or count < 1:
        raise ValueError("an analysis of variance needs two values")
    # Deviations from a value of the sample: digits far before the point must not swallow those that vary.
    shift = float(groups[0][0])
    means = np.array([float((group - shift).mean()) for group in groups])
    centre = float(np.average(means, weights=sizes))
    between = float(np.sum(sizes * (means - centre) ** 2))
    within = float(sum(float(np.sum((group - shift - mean) ** 2)) for group, mean in zip(groups, means, strict=True)))
    between_square = between / (count - 1) if count > 1 else math.nan
    within_square = within / (total - count) if total > count else math.nan
    usual_size = (total - float(np.sum(sizes**2)) / total) / (count - 1) if count > 1 else math.nan
    all_of_it = between + within
    return OneWay(
        mean=shift + centre,
        groups=count,
        values=total,
        between_square=between_square,
        within_square=within_square,
        between_degrees=count - 1,
        within_degrees=total - count,
        f_ratio=between_square / within_square if within_square else math.inf if between > 0 else math.nan,
        between_variance=(between_square - within_square) / usual_size if count > 1 else math.nan,
        r_squared=between / all_of_it if all_of_it > 0 else math.nan,
    )
