"""A number that was estimated, with its interval, or the reason why there is none."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """``value`` with the interval ``low`` to ``high`` that covers the truth with probability ``level``.

    ``unit`` is the unit of all three (``"%"``, ``"W"``, ``"s"``, ``"ppm"``). Where no estimate could be made all
    three are ``None`` and ``not_assessed`` holds a slug that says why; that is never a zero and never a pass.
    One-sided knowledge shows as an infinite or asymmetric end, never as a missing one.
    """

    value: float | None
    low: float | None
    high: float | None
    unit: str
    level: float = 0.95
    not_assessed: str | None = None

    def __post_init__(self) -> None:
        """Refuse a half-made estimate, a NaN, or an interval that does not hold its value.

        Raises ValueError.
        """
        numbers = (self.value, self.low, self.high)
        if self.not_assessed is not None:
            if any(number is not None for number in numbers):
                raise ValueError("an estimate that was not assessed carries no numbers")
            return
        if self.value is None or self.low is None or self.high is None:
            raise ValueError("an estimate needs value, low and high, or the reason why it was not assessed")
        if any(math.isnan(number) for number in (self.value, self.low, self.high)):
            raise ValueError("an estimate holds no NaN: say why it was not assessed")
        if not self.low <= self.value <= self.high:
            raise ValueError(f"the interval {self.low} to {self.high} does not hold {self.value}")

    @property
    def assessed(self) -> bool:
        """Whether there is a number at all."""
        return self.not_assessed is None

    @classmethod
    def missing(cls, slug: str, unit: str, level: float = 0.95) -> Estimate:
        """An estimate that could not be made, for the reason ``slug``."""
        return cls(value=None, low=None, high=None, unit=unit, level=level, not_assessed=slug)
