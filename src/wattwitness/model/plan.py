"""What a tester plans to ride, what that can tell apart, and what verdict it would bring."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.claim import Claim, DecisionRule


class StepKind(StrEnum):
    """What a stretch of a planned ride is for."""

    WARM_UP = "warm_up"
    MEASURE = "measure"
    COOL_DOWN = "cool_down"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanStep:
    """``seconds`` at one power and cadence. ``end_w``: where the power has climbed to by its end (``None``: level)."""

    kind: StepKind
    seconds: float
    power_w: float
    cadence_rpm: float
    end_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RidePlan:
    """One ride to be ridden, step after step."""

    name: str
    steps: tuple[PlanStep, ...]

    @property
    def minutes(self) -> float:
        """Length of the ride."""
        return sum(step.seconds for step in self.steps) / 60


class EffectName(StrEnum):
    """What a ride should tell apart."""

    GAIN = "gain"
    ZERO = "zero"
    CADENCE = "cadence"
    SETTLING = "settling"


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectError:
    """How well one ride shows an effect: its standard error beside all others, and ``alone_se`` if there were no other.

    In percent of the reading: of the gain; of a zero at the ride's mean torque; of 10 rpm; of the change by settling.
    ``se`` is infinite where the ride cannot show it at all.
    """

    name: EffectName
    se_pct: float
    alone_se_pct: float
    wanted_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EffectPair:
    """Two effects: the ``correlation`` of their estimates, how many times wider not knowing the one makes the other
    (``inflation``), and whether the ride tells them apart.
    """

    first: EffectName
    second: EffectName
    correlation: float
    inflation: float
    separable: bool
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Separation:
    """What one ride can tell apart, and the standard error of its bias at the mean power and cadence of its steps."""

    effects: tuple[EffectError, ...]
    pairs: tuple[EffectPair, ...]
    bias_se_pct: float
    at_w: float
    at_rpm: float
    separates: bool
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """A number the plan stands on, and where it is from."""

    name: str
    value: str
    origin: str


@dataclass(frozen=True, slots=True, kw_only=True)
class VerdictChances:
    """Chance of each verdict of a study of ``rides`` rides; ``true_bias_pct`` ``None``: averaged over what may be."""

    rides: int
    true_bias_pct: float | None
    conforms: float
    does_not_conform: float
    undecided: float


@dataclass(frozen=True, slots=True, kw_only=True)
class RidesNeeded:
    """The smallest number of rides that decides as often as asked (``None``: none does), with its ``chance``.

    ``most_chance`` is that of endlessly many rides with this reference; ``worthwhile`` the number of rides that comes
    to nine tenths of it, beyond which more add little.
    """

    value: int | None
    chance: float | None
    most_chance: float | None
    worthwhile: int | None
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prospects:
    """What a study after the plan would find: trueness by rides and by true bias, consistency by rides, and the hours
    without a fault that would show freedom from them.

    ``largest_reference_pct`` is the standard uncertainty of a reference above which not even a perfect unit is ever
    found to conform.
    """

    limit_pct: float
    asked_chance: float
    needed: RidesNeeded
    by_rides: tuple[VerdictChances, ...]
    by_bias: tuple[VerdictChances, ...]
    consistency: tuple[VerdictChances, ...]
    spread_limit_pct: float
    consistency_needed: RidesNeeded
    largest_reference_pct: float
    fault_free_hours: float
    faults_per_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPlan:
    """The whole plan: two orders of one ride to be ridden in turn, what they tell apart, and what they would decide."""

    claim: Claim | None
    rule: DecisionRule
    risk: float
    threshold_w: float
    threshold_stated: bool
    rides: int
    rides_reason: str
    orders: tuple[RidePlan, ...]
    separation: Separation
    prospects: Prospects | None
    assumptions: tuple[Assumption, ...]
    beyond_threshold: bool
    seed: int
    version: str
