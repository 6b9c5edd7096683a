"""An uncertainty budget: what makes a result uncertain, how each part is known, and what they come to together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum


class Distribution(StrEnum):
    """How a quantity may lie around its estimate (JCGM 100:2008, 4.3; JCGM 101:2008, table 1)."""

    NORMAL = "normal"
    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"

    @property
    def divisor(self) -> float:
        """What a half-width is divided by to get the standard uncertainty; 1 for ``normal``, which has none."""
        return {"normal": 1.0, "rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}[self]


class Origin(StrEnum):
    """How a contribution is known: from this ride or weighing, from a maker's or certificate's word, or supposed."""

    MEASURED = "measured"
    CLAIMED = "claimed"
    ASSUMED = "assumed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """One source of uncertainty.

    ``standard_uncertainty`` is in ``unit``; ``sensitivity`` is the change of the result, in percent, per ``unit`` of
    it. ``degrees`` of freedom may be infinite. ``source`` says where the number comes from. ``common``: the same error
    in every ride with this reference, so that more rides do not shrink it. ``is_default``: nobody stated it.
    """

    name: str
    title: str
    unit: str
    standard_uncertainty: float
    sensitivity: float
    distribution: Distribution
    origin: Origin
    source: str
    degrees: float = math.inf
    common: bool = False
    is_default: bool = False

    @property
    def contribution_pct(self) -> float:
        """Its standard uncertainty in the result, percent."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Contributions combined.

    ``standard_pct`` by the law of propagation (JCGM 100:2008, equation 10), ``degrees`` by Welch-Satterthwaite
    (equation G.2b), ``expanded_pct`` = ``coverage_factor`` times ``standard_pct`` for coverage ``level``.
    ``monte_carlo_*`` are the ends of the interval by propagating distributions (JCGM 101:2008), probabilistically
    symmetric, as deviations from the result. ``common_pct`` is the standard uncertainty of what all rides share;
    ``reference_pct`` that of the reference meter itself. ``notes`` are sentences on what is and is not in it.
    """

    contributions: tuple[Contribution, ...]
    level: float
    standard_pct: float
    degrees: float
    coverage_factor: float
    expanded_pct: float
    monte_carlo_low_pct: float
    monte_carlo_high_pct: float
    common_pct: float
    reference_pct: float
    notes: tuple[str, ...] = ()
