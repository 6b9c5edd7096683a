"""A plan as it is asked for in a form: every value within what makes sense, what a unit's rides already say taken from
them, and plans of the last questions at hand.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from wattwitness.model.errors import SettingInvalid
from wattwitness.model.plan import StudyPlan
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.plan.assemble import PlanQuestion
from wattwitness.workflows.bench_studies import bench_study, kept_question
from wattwitness.workflows.plan import plan_study
from wattwitness.workflows.unit_view import unit_on

MOST_CADENCES = 12
FASTEST_RPM, SLOWEST_RPM = 130.0, 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """What is believed of one number of a plan: from ``low`` to ``high``, in ``unit``."""

    low: float
    high: float
    unit: str


RANGES = {
    "limit_pct": Within(low=0.05, high=100, unit="%"),
    "reference_uncertainty_pct": Within(low=0, high=50, unit="%"),
    "threshold_w": Within(low=30, high=1000, unit="W"),
    "spread_pct": Within(low=0, high=50, unit="%"),
    "bias_pct": Within(low=-90, high=90, unit="%"),
    "bias_sd_pct": Within(low=0, high=50, unit="%"),
    "chance": Within(low=0.01, high=0.999, unit=""),
    "risk": Within(low=0.001, high=0.5, unit=""),
    "rides": Within(low=2, high=100, unit="rides"),
    "highest_pct": Within(low=50, high=120, unit="%"),
    "step_s": Within(low=30, high=1200, unit="s"),
    "repeats": Within(low=1, high=6, unit=""),
    "warm_up_min": Within(low=5, high=60, unit="min"),
    "seed": Within(low=0, high=2**31 - 1, unit=""),
}
"""As far as each number goes; those of the command line."""

WHOLE = frozenset({"rides", "repeats", "seed"})


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownOfUnit:
    """What the rides of a unit say already; ``None`` where they do not say it."""

    unit: str
    rides: int
    spread_pct: float
    bias_pct: float
    threshold_w: float | None
    reference_uncertainty_pct: float | None


def checked_number(name: str, value: float | None) -> float | None:
    """The number, if it lies within what makes sense for it. Raises SettingInvalid, which names it."""
    if value is None:
        return None
    within = RANGES[name]
    unit = f" {within.unit}" if within.unit else ""
    if not within.low <= value <= within.high:
        raise SettingInvalid(
            f"This is outside {within.low:g} to {within.high:g}{unit}.", where=name, hint="Give one inside that range."
        )
    if name in WHOLE and value != int(value):
        raise SettingInvalid("This is no whole number.", where=name, hint="Give a whole number.")
    return value


def checked_cadences(cadences_rpm: tuple[float, ...]) -> tuple[float, ...]:
    """Cadences of the steps. Raises SettingInvalid."""
    sound = [cadence for cadence in cadences_rpm if SLOWEST_RPM <= cadence <= FASTEST_RPM]
    if len(sound) != len(cadences_rpm) or not 1 <= len(set(sound)) == len(sound) <= MOST_CADENCES:
        raise SettingInvalid(
            f"These are not 1 to {MOST_CADENCES} different cadences from {SLOWEST_RPM:g} to {FASTEST_RPM:g} rpm.",
            where="cadences_rpm",
            hint="Write each once, parted by blanks: 65 85 100.",
        )
    return cadences_rpm


@lru_cache(maxsize=16)
def plan_at_hand(question: PlanQuestion) -> StudyPlan:
    """The plan, computed once for each question: the same question always has the same plan. Raises SettingInvalid."""
    try:
        return plan_study(question)
    except SettingInvalid as error:
        fields = {"--cadence-rpm": "cadences_rpm", "--step-s": "step_s", "--threshold-w": "threshold_w"}
        hint = error.hint if "--" not in error.hint else "Correct what is named."
        raise SettingInvalid(error.what, where=fields.get(error.where or "", error.where), hint=hint) from error


def known_of_unit(bench: Path, unit_id: int, *, progress: Callable[[str], None] = lambda _: None) -> KnownOfUnit:
    """What the rides of a unit say of its spread and bias. Raises UnknownName, SettingInvalid where it is nothing."""
    name = unit_on(bench, unit_id).name
    kept = kept_question(bench, unit_id)
    study = bench_study(bench, ListedStudy(rides=(), unit=name), CompareSettings(), progress=progress)
    found = study.consistency.crude
    spread, mean = found.between_ride_sd_pct, found.mean_bias_pct
    if spread.value is None or mean.value is None:
        raise SettingInvalid(
            f"The rides of {name} do not say yet how they differ from day to day.",
            where="from_unit",
            hint="Leave this empty: what is common among good units is then taken. Three rides say a little.",
        )
    return KnownOfUnit(
        unit=name,
        rides=found.rides,
        spread_pct=round(min(spread.value, RANGES["spread_pct"].high), 2),
        bias_pct=round(min(max(mean.value, RANGES["bias_pct"].low), RANGES["bias_pct"].high), 2),
        threshold_w=kept.threshold_w,
        reference_uncertainty_pct=kept.reference_uncertainty_pct,
    )
