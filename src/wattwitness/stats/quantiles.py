"""Two-sided quantiles of the normal and Student distributions, without the weight of scipy.stats."""

from __future__ import annotations


def normal_quantile(level: float) -> float:
    """Return z with P(|Z| <= z) = ``level`` for a standard normal Z: 1.960 for 0.95."""
    from scipy.special import ndtri

    return float(ndtri(0.5 + level / 2))


def student_quantile(level: float, degrees: float) -> float:
    """Return t with P(|T| <= t) = ``level`` for Student's T with ``degrees`` of freedom: 2.447 for 0.95 and 6."""
    from scipy.special import stdtrit

    return float(stdtrit(degrees, 0.5 + level / 2))


def chi_square_quantiles(level: float, degrees: float) -> tuple[float, float]:
    """Return the two ends that hold chi-squared with ``degrees`` of freedom with probability ``level``, equal tails:
    0.831 and 12.83 for 0.95 and 5.
    """
    from scipy.special import chdtri

    tail = (1 - level) / 2
    return float(chdtri(degrees, 1 - tail)), float(chdtri(degrees, tail))


def fisher_quantile(level: float, numerator: float, denominator: float) -> float:
    """Return the upper end of F's interval of equal tails: 9.98 for 0.95, 3 and 4 degrees of freedom."""
    from scipy.special import fdtri

    return float(fdtri(numerator, denominator, 0.5 + level / 2))
