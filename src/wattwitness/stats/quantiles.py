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
