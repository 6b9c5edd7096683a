"""What is promised of a unit, as data, and the verdicts on it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class ClaimStatus(StrEnum):
    """How a limit is known: stated by whoever gave it, read in the document itself, or second-hand."""

    STATED = "stated"
    READ = "read"
    SECONDARY = "secondary"


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """Limits on the bias: ``limit_pct`` of the true power or ``limit_w``, whichever is wider where both are given.

    They hold from ``from_w`` to ``to_w`` of power. ``spread_pct`` limits the standard deviation between rides, and
    ``faults_per_h`` the rate of faults, where they are claimed. ``source`` says whose promise it is.
    """

    name: str
    source: str
    status: ClaimStatus
    limit_pct: float | None = None
    limit_w: float | None = None
    from_w: float = 0.0
    to_w: float = float("inf")
    spread_pct: float | None = None
    faults_per_h: float | None = None

    def limit_at_pct(self, power_w: float) -> float | None:
        """The limit on the size of the bias at ``power_w``, in percent of it; ``None`` where none is claimed there."""
        if not self.from_w <= power_w <= self.to_w or power_w <= 0:
            return None
        limits = [self.limit_pct] if self.limit_pct is not None else []
        limits += [100 * self.limit_w / power_w] if self.limit_w is not None else []
        return max(limits, default=None)


class VerdictWord(StrEnum):
    """The four answers; nothing measured is ``NOT_ASSESSED``, never a pass."""

    CONFORMS = "conforms"
    DOES_NOT_CONFORM = "does_not_conform"
    UNDECIDED = "undecided"
    NOT_ASSESSED = "not_assessed"


class DecisionRule(StrEnum):
    """How a verdict is reached: by the estimate alone; with a guard band of the expanded uncertainty; or by the
    probability of conformance and a limit of risk (JCGM 106:2012).
    """

    SIMPLE_ACCEPTANCE = "simple_acceptance"
    GUARD_BAND = "guard_band"
    CONFORMANCE_PROBABILITY = "conformance_probability"


@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherRides:
    """How many more rides would decide, and with what ``chance``; ``value`` ``None`` where no number can or none is
    needed, with the ``reason`` in a sentence either way. ``more_than`` is the number up to which none was enough,
    where more might be.
    """

    value: int | None
    chance: float | None
    reason: str
    more_than: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Risks:
    """Chance of a wrong firm verdict, averaged over what is not known, and ``at_fixed``: (reference's error in percent,
    probability of conformance if it were that).
    """

    consumers: float | None
    producers: float | None
    at_fixed: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """One verdict. ``probability`` is that the claim is met, given all that was measured (``None``: not assessed).

    ``says`` is one plain sentence, ``claim`` the promise it is held against.
    """

    verdict: VerdictWord
    rule: DecisionRule
    probability: float | None
    further_rides: FurtherRides
    says: str
    claim: str
    risks: Risks = Risks(consumers=None, producers=None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """Three claims judged apart and never averaged."""

    trueness: Verdict
    consistency: Verdict
    faults: Verdict
