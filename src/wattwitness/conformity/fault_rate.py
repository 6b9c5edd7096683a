"""How often a unit may fail, from how often it did: exact Poisson intervals and probabilities."""

from __future__ import annotations

import math


def rate_interval(count: int, hours: float, level: float = 0.95) -> tuple[float, float]:
    """Central exact interval of a Poisson rate per hour: Garwood F (1936) Biometrika 28:437-442 (from memory).

    Raises ValueError where ``hours`` are not above 0: no exposure shows nothing.
    """
    from scipy.special import gammaincinv

    if not hours > 0:
        raise ValueError("a rate needs hours to be counted over")
    tail = (1 - level) / 2
    low = 0.0 if count == 0 else float(gammaincinv(count, tail))
    return low / hours, float(gammaincinv(count + 1, 1 - tail)) / hours


def chance_rate_within(limit: float, count: int, hours: float) -> tuple[float, float]:
    """Lower and upper bound of the confidence that the rate per hour is at most ``limit``.

    The Poisson count is a whole number, so its confidence distribution is a band: from gamma with ``count + 1`` (what
    a pass has to satisfy) to gamma with ``count`` (what a fail has to).
    """
    from scipy.special import gammainc

    expected = limit * hours
    least = float(gammainc(count + 1, expected))
    most = 1.0 if count == 0 else float(gammainc(count, expected))
    return least, most


def hours_without_fault(limit: float, risk: float) -> float:
    """Hours without one fault that show a rate at or below ``limit`` per hour with confidence one less ``risk``."""
    return -math.log(risk) / limit if limit > 0 else math.inf
