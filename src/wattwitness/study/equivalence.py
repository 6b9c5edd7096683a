"""Two means held against each other, and whether they are shown to be alike: Welch's t and two one-sided tests.

Welch BL (1947) Biometrika 34:28-35; Schuirmann DJ (1987) J. Pharmacokin. Biopharm. 15:657-680 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wattwitness.conformity.probability import student_below, student_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class MeanKnown:
    """A mean, its standard error and that one's degrees of freedom."""

    mean: float
    standard_error: float
    degrees: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """Second less first, with its standard error and Satterthwaite's degrees of freedom."""

    value: float
    standard_error: float
    degrees: float

    def interval(self, level: float) -> tuple[float, float]:
        """Low and high of the change."""
        half = float(student_quantile(0.5 + level / 2, self.degrees)) * self.standard_error
        return self.value - half, self.value + half

    def chance_beyond(self, low: float, high: float) -> float:
        """The larger p-value of the two one-sided tests that the change is below ``low`` or above ``high``: small is
        proof of being within.
        """
        if self.standard_error == 0:
            return 0.0 if low < self.value < high else 1.0
        above, below = (self.value - low) / self.standard_error, (high - self.value) / self.standard_error
        return float(1 - student_below(np.asarray(min(above, below)), self.degrees))


def change(first: MeanKnown, second: MeanKnown) -> Change:
    """Welch's difference of two means."""
    a, b = first.standard_error**2, second.standard_error**2
    spare = sum(part**2 / degrees for part, degrees in ((a, first.degrees), (b, second.degrees)) if part > 0)
    return Change(
        value=second.mean - first.mean,
        standard_error=math.sqrt(a + b),
        degrees=(a + b) ** 2 / spare if spare > 0 else math.inf,
    )
