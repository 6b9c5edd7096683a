"""Judge a unit over many rides: a folder or a list of recordings in, the whole answer out."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from wattwitness import __version__
from wattwitness.agreement.overall import METERS_IN_USE_PCT
from wattwitness.conformity.claims import PUBLISHED
from wattwitness.conformity.rules import RuleSettings
from wattwitness.engine.pool import in_order
from wattwitness.faults.patterns import patterns_over_rides
from wattwitness.model.claim import Claim, ClaimStatus
from wattwitness.model.errors import FileMissing, SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.rider import ZoneSet
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures, Study
from wattwitness.readers.open import split_part
from wattwitness.rider.effects import rider_effects
from wattwitness.rider.zone_sets import SEVEN, ZONE_SETS
from wattwitness.study.assemble import StudyQuestion, study_of
from wattwitness.study.before_after import ChangeLimits
from wattwitness.workflows.one_ride import RideTask, figures_of

Progress = Callable[[str], None]


def listed_study(
    path: Path, *, reference: str = "", unit: str = "", several: bool = False
) -> tuple[ListedStudy, tuple[tuple[str, str], ...]]:
    """The rides of a folder as proposed, or of a TOML list as written, and what could not be used.

    ``several``: rides of several units may be among them.

    Raises FileMissing, StudyFileInvalid, RidesUnclear.
    """
    if path.is_dir():
        from wattwitness.workflows.pairing import propose_rides

        proposal = propose_rides(path, reference=reference, unit=unit, several=several)
        return ListedStudy(rides=proposal.rides), proposal.unused
    if not path.exists():
        raise FileMissing("There is no such folder or list.", where=str(path), hint="Check the path.")
    from wattwitness.readers.study_file import load_study_file

    return load_study_file(path), ()


def question_in(path: Path) -> dict[str, Any]:
    """What a file asks, without the rides, by the names of ``ListedStudy``; what it leaves open is not there.

    Raises StudyFileInvalid.
    """
    from wattwitness.readers.study_file import load_question_file

    listed, nothing = load_question_file(path), ListedStudy(rides=())
    given = {item.name: getattr(listed, item.name) for item in fields(listed)}
    return {name: value for name, value in given.items() if value != getattr(nothing, name)}


def published_claim(name: str) -> Claim:
    """A published limit by its name. Raises UnknownName, listing those there are."""
    return PUBLISHED.get(name)


def run_study(
    listed: ListedStudy, settings: CompareSettings, *, progress: Progress = lambda _: None, processes: int | None = None
) -> Study:
    """Compare every ride, over all cores, and judge them together."""
    tasks = ride_tasks(listed, settings)
    figures: list[RideFigures] = []
    for done, ride in enumerate(in_order(figures_of, tasks, processes=processes), start=1):
        figures.append(ride)
        progress(f"compared {done} of {len(tasks)} rides")
    return judge_rides(figures, listed, settings)


def zones_asked(listed: ListedStudy) -> ZoneSet:
    """The tester's own zones, those named, or the usual ones. Raises UnknownName."""
    return listed.own_zones or ZONE_SETS.get(listed.zones or SEVEN.name)


def counted_once(figures: Sequence[RideFigures], listed: ListedStudy) -> list[RideFigures]:
    """The rides, with those that are made of the same recordings as one before left out: they are no further ride."""
    seen: dict[tuple[object, ...], str] = {}
    rides = []
    for number, ride in enumerate(figures):
        parts: tuple[object, ...] = (number,)
        if number < len(listed.rides):
            parts = tuple(split_part(file)[1] for file in (listed.rides[number].reference, listed.rides[number].unit))
        key = (*ride.source_sha256, *parts)
        if ride.counts and all(ride.source_sha256) and key in seen:
            why = f"It is made of the same recordings as “{seen[key]}”, and counts once."
            ride = replace(ride, left_out="same_recordings", left_out_why=why)  # noqa: PLW2901
        elif all(ride.source_sha256):
            seen.setdefault(key, ride.name)
        rides.append(ride)
    return rides


def in_groups(figures: Sequence[RideFigures], listed: ListedStudy) -> list[RideFigures]:
    """The rides in the groups that are held against each other; without such groups, by their firmware.

    Raises UnknownName where a name is neither, listing those there are.
    """
    names = {listed.before, listed.after} - {""}
    groups, firmware = ({getattr(ride, key) for ride in figures} - {""} for key in ("group", "firmware"))
    if len(names) == 1:
        raise SettingInvalid(
            "Before and after are asked about, and both need a group.",
            where="before, after",
            hint="Name two groups of rides, or two versions of firmware.",
        )
    if names <= groups:
        return list(figures)
    if names <= firmware:
        return [replace(ride, group=ride.firmware) for ride in figures]
    missing = sorted(names - groups - firmware) or sorted(names - groups)
    known = ", ".join(f"“{name}”" for name in sorted(groups | firmware)) or "none"
    raise UnknownName(
        f"No ride has the group or the firmware “{missing[0]}”.",
        where="before, after",
        hint=f"Groups and firmware there are: {known}. Both names have to be groups, or both firmware.",
    )


def ride_tasks(listed: ListedStudy, settings: CompareSettings) -> list[RideTask]:
    """What is to be computed of each ride. Raises UnknownName for zones that are not known."""
    zones = zones_asked(listed)
    chosen = replace(settings, reference_uncertainty_pct=_given_pct(listed, settings))
    return [
        RideTask(ride=ride, settings=chosen, zones=zones, threshold_w=listed.threshold_w, unit=listed.unit)
        for ride in listed.rides
    ]


def judge_rides(figures: Sequence[RideFigures], listed: ListedStudy, settings: CompareSettings) -> Study:
    """The answer from the figures of the rides. Raises UnknownName where no ride is before or after."""
    figures = in_groups(counted_once(figures, listed), listed)
    claim = listed.claim or _claim(settings)
    defaults = ChangeLimits()
    question = StudyQuestion(
        claim=claim,
        rule=_rule(listed),
        at_w=listed.at_w,
        at_rpm=listed.at_rpm,
        reference_uncertainty_pct=_reference_pct(figures, listed, settings),
        before=listed.before,
        after=listed.after,
        limits=ChangeLimits(
            bias_pct=defaults.bias_pct if claim is None or claim.limit_pct is None else claim.limit_pct,
            spread_pct=defaults.spread_pct if claim is None or claim.spread_pct is None else claim.spread_pct,
            faults_per_h=defaults.faults_per_h if claim is None or claim.faults_per_h is None else claim.faults_per_h,
            margin_pct=defaults.margin_pct if listed.margin_pct is None else listed.margin_pct,
        ),
        level=settings.level,
        seed=settings.bootstrap_seed,
    )
    unit = listed.unit or next((ride.unit for ride in figures if ride.unit), "the unit")
    study = study_of(unit, figures, question, version=__version__)
    return replace(
        study,
        claim=claim,
        settings=replace(settings, reference_uncertainty_pct=_given_pct(listed, settings)),
        episode_patterns=patterns_over_rides(
            [(ride.episodes, ride.hours) for ride in study.rides if ride.counts and ride.hours > 0]
        ),
        rider=rider_effects(
            study.rides,
            study.consistency,
            zones_asked(listed),
            threshold_w=listed.threshold_w,
            field=[(rider.name, rider.mean_w) for rider in listed.field_riders],
            level=settings.level,
        ),
    )


def _given_pct(listed: ListedStudy, settings: CompareSettings) -> float | None:
    """The reference's standard uncertainty as stated, the command line before the list."""
    stated = settings.reference_uncertainty_pct
    return listed.reference_uncertainty_pct if stated is None else stated


def _reference_pct(figures: Sequence[RideFigures], listed: ListedStudy, settings: CompareSettings) -> float:
    """As stated, else by the budgets of the rides (the largest of them), else that of meters in use."""
    stated = _given_pct(listed, settings)
    if stated is not None:
        return stated
    budgeted = [ride.reference_uncertainty_pct for ride in figures if ride.counts]
    return max((value for value in budgeted if math.isfinite(value)), default=METERS_IN_USE_PCT)


def _rule(listed: ListedStudy) -> RuleSettings:
    usual = RuleSettings()
    return RuleSettings(
        rule=usual.rule if listed.rule is None else listed.rule,
        risk=usual.risk if listed.risk is None else listed.risk,
    )


def _claim(settings: CompareSettings) -> Claim | None:
    return None if settings.limit_pct is None else stated_limit(settings.limit_pct)


def stated_limit(limit_pct: float) -> Claim:
    """A limit stated on the command line as a claim."""
    return Claim(name="stated", source="the limit stated", status=ClaimStatus.STATED, limit_pct=limit_pct)
