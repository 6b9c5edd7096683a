"""Many rides that answer one question about a unit: each ride's figures, and what they come to together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.claim import Claim, Verdicts
from wattwitness.model.episodes import Episode, Pattern
from wattwitness.model.estimate import Estimate
from wattwitness.model.rider import RiderEffects, ThresholdTest, ZonesRidden
from wattwitness.model.settings import CompareSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class RideFigures:
    """One ride of one unit. Standard errors are of the ride's own statistics, the reference's uncertainty left out.

    ``standardised_pct`` is the bias at the study's stated power and cadence by the ride's fitted relation. ``gain_pct``
    and ``zero_nm`` are that relation's, with ``relation_covariance`` (gain variance, covariance, zero variance) in the
    units of both. ``hours`` are those that both meters recorded, NaN where no common clock says which those are.
    ``left_out`` is a slug of why the ride does not count (empty: it does), ``left_out_why`` the sentence. ``day``: ISO
    8601 date, empty where undated. Moderators are NaN or empty where not recorded, and so is the course of a settling
    bias (``start_bias_pct``, ``settled_bias_pct``, ``tau_min``) where none was found.
    ``block_bias_pct`` is the bias of each block of minutes along the ride. ``supposed_pct`` of a ride that is left out
    is the bias it would have had, as far as one can say (NaN: cannot). ``episodes`` are empty also where none could be
    looked for (``faults_looked_for``). ``usual_bias_pct`` is the bias apart from the unit's
    episodes. ``ridden_w`` is the range of power that was held for a minute or more. ``said`` are the
    warnings of its recordings and what the tester left out.
    ``within_pct`` is the standard deviation of the error's 30 s means in the ride,
    ``reference_uncertainty_pct`` the reference's own standard uncertainty by that ride's budget. ``source_sha256`` are
    the hashes of the files of reference and unit (empty: they could not be read). ``stretches_out_s`` are the
    stretches that the tester left out, from and to, in seconds after the reference's first sample.
    """

    name: str
    unit: str
    day: str
    hours: float
    bias_pct: Estimate
    bias_se_pct: float
    bias_degrees: float
    standardised_pct: Estimate
    standardised_se_pct: float
    standardised_degrees: float
    gain_pct: float
    zero_nm: float
    relation_covariance: tuple[float, float, float]
    mean_w: float
    mean_rpm: float
    left_out: str = ""
    left_out_why: str = ""
    supposed_pct: float = math.nan
    temperature_c: float = math.nan
    firmware: str = ""
    rider: str = ""
    group: str = ""
    start_bias_pct: float = math.nan
    settled_bias_pct: float = math.nan
    tau_min: float = math.nan
    episodes: tuple[Episode, ...] = ()
    faults_looked_for: bool = False
    usual_bias_pct: float = math.nan
    within_pct: float = math.nan
    reference_uncertainty_pct: float = math.nan
    zones_ridden: ZonesRidden | None = None
    threshold_test: ThresholdTest | None = None
    block_bias_pct: tuple[float, ...] = ()
    said: tuple[str, ...] = ()
    ridden_w: tuple[float, float] = (math.nan, math.nan)
    source_sha256: tuple[str, ...] = ()
    stretches_out_s: tuple[tuple[float, float], ...] = ()

    @property
    def counts(self) -> bool:
        """Whether the ride is used."""
        return not self.left_out


@dataclass(frozen=True, slots=True, kw_only=True)
class Moderator:
    """What one thing about the rides does to the bias: ``per_unit`` percent per ``unit`` of it, with a warning where
    the rides are few.
    """

    name: str
    unit: str
    per_unit: Estimate
    rides: int
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlyingRide:
    """A ride that stands apart, why, and what the mean would be without it; it is never dropped for that."""

    name: str
    why: str
    mean_without_pct: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutRide:
    """A ride that does not count, why, and the mean bias if it had counted (``None``: it has no bias)."""

    name: str
    slug: str
    why: str
    mean_with_it_pct: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RandomEffects:
    """Rides as draws from many: mean bias, spread between rides, and the next observed ride.

    ``next_ride_pct`` holds the mean with the interval for one more ride of the usual length as observed with the same
    reference. ``between_ride_sd_pct`` by restricted maximum likelihood, ``paule_mandel_sd_pct`` beside it.
    ``variance_share`` is the part of the observed rides' variance that is between rides, 0 to 1.
    """

    rides: int
    mean_bias_pct: Estimate
    between_ride_sd_pct: Estimate
    paule_mandel_sd_pct: float | None
    next_ride_pct: Estimate
    variance_share: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Consistency:
    """Is it the same every day? ``crude`` as ridden, ``standardised`` to ``at_w`` and ``at_rpm``.

    ``repeatability_sd_pct`` is within a ride, ``intermediate_sd_pct`` between rides and within together (ISO 5725-2).
    """

    crude: RandomEffects
    standardised: RandomEffects
    at_w: float
    at_rpm: float
    repeatability_sd_pct: Estimate
    intermediate_sd_pct: Estimate
    moderators: tuple[Moderator, ...]
    outlying: tuple[OutlyingRide, ...]
    left_out: tuple[LeftOutRide, ...]
    says: str


class CorrectionModel(StrEnum):
    """What may be taken out of a unit's readings."""

    NONE = "none"
    GAIN = "gain"
    GAIN_AND_ZERO = "gain_and_zero"
    WITH_SETTLING = "with_settling"


@dataclass(frozen=True, slots=True, kw_only=True)
class CorrectionTried:
    """One model with its root mean square error on rides not used, and the bound that 95 % of rides keep, percent."""

    model: CorrectionModel
    error_pct: float
    bound_pct: float
    gain: float
    zero_nm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """Can it be corrected, how, and how well on a ride not used. ``best`` is ``None`` with too few rides."""

    best: CorrectionModel | None
    error_pct: float | None
    bound_pct: float | None
    formula: str
    says: str
    tried: tuple[CorrectionTried, ...]
    correctable: bool


class ChangeFinding(StrEnum):
    """What a repair or new firmware did."""

    FIXED = "fixed"
    IMPROVED = "improved"
    UNCHANGED = "unchanged"
    WORSE = "worse"
    NOT_SHOWN = "not_shown"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeAspect:
    """One thing that may have changed (``bias``, ``spread``, ``faults``), what was found of it, in a sentence too.

    ``in_order``: nothing shows that it is out of its limits now.
    """

    name: str
    finding: ChangeFinding
    says: str
    in_order: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeAfter:
    """Two groups of rides held against each other: after less before, after over before.

    ``variance_ratio`` is of the rides' biases as observed, ``fault_rate_ratio`` of the unit's faults per hour;
    ``fault_chance`` the probability of so great a change of it if the rides had been shuffled. ``equivalent``: whether
    the bias is shown not to have changed by more than ``margin_pct``.
    """

    before: str
    after: str
    finding: ChangeFinding
    bias_change_pct: Estimate
    variance_ratio: Estimate
    fault_rate_ratio: Estimate
    fault_chance: float | None
    equivalent: bool | None
    margin_pct: float
    aspects: tuple[ChangeAspect, ...]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """The whole answer about one unit over many rides. ``limit_pct`` is the one claimed at the standard power.

    ``mean_bias_with_reference_pct`` is the standardised mean bias with the reference's own uncertainty in its interval:
    what can be said of the true power. ``judged_on`` names the group of rides that all but the change was judged on
    (empty: all of them). ``claim`` is what was promised and by whom, ``settings`` those of every ride's comparison;
    ``None`` where they are not on record.
    """

    unit: str
    rides: tuple[RideFigures, ...]
    consistency: Consistency
    correction: Correction
    verdicts: Verdicts
    judged_on: str
    before_after: BeforeAfter | None
    episode_patterns: tuple[Pattern, ...]
    reference_uncertainty_pct: float
    mean_bias_with_reference_pct: Estimate
    limit_pct: float | None
    rider: RiderEffects | None
    version: str
    claim: Claim | None = None
    settings: CompareSettings | None = None
