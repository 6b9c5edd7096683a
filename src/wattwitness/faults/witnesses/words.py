"""How witnesses say numbers."""

from __future__ import annotations

import math

from wattwitness.model.estimate import Estimate


def signed(estimate: Estimate, digits: int = 0) -> str:
    """A change with its interval: ``-24 % (-27 to -21)``; empty where it was not assessed."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return ""
    unit = f" {estimate.unit}" if estimate.unit else ""
    low, high = (_number(end, digits) for end in (estimate.low, estimate.high))
    return f"{_number(estimate.value, digits)}{unit} ({low} to {high})"


def _number(value: float, digits: int) -> str:
    """A signed number with a true minus; ``0`` without a sign."""
    shown = f"{value:+.{digits}f}"
    return shown.lstrip("+-") if float(shown) == 0 else shown.replace("-", "−")


def to_one(log_odds: float) -> str:
    """Odds in words: ``more than 100 to 1``, ``30 to 1``."""
    odds = math.exp(min(abs(log_odds), 50.0))
    if odds >= 1000:
        return "more than 1000 to 1"
    if odds >= 10:
        return f"{float(f'{odds:.1g}'):.0f} to 1"
    return f"{odds:.1f} to 1"
