"""The form that asks something of a unit, read into the words of a list of rides."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from wattwitness.conformity.claims import PUBLISHED
from wattwitness.model.claim import Claim, ClaimStatus, DecisionRule
from wattwitness.model.errors import SettingInvalid
from wattwitness.model.ride_list import FieldRider, ListedStudy
from wattwitness.model.rider import ZoneSet
from wattwitness.rider.zone_sets import ZONE_SETS
from wattwitness.sections.small_print import promise_words
from wattwitness.web.answers import number_of
from wattwitness.words.numbers import MINUS

LIMITS = {
    "risk": (0.001, 0.5),
    "at_w": (20, 2000),
    "at_rpm": (20, 200),
    "threshold_w": (30, 1000),
    "reference_uncertainty_pct": (0, 50),
    "margin_pct": (0.01, 50),
    "limit_pct": (0.01, 100),
    "limit_w": (0.1, 500),
    "from_w": (0, 5000),
    "to_w": (0, 5000),
    "spread_pct": (0.01, 50),
    "faults_per_h": (0, 100),
}
OWN = "own"
ON_BENCH = "on the bench: "
STATED = "stated"
MOST_RIDERS = 500
MOST_LETTERS = 200


def question_of_form(words: Mapping[str, Any], claims: Sequence[Claim]) -> ListedStudy:
    """What is asked; ``claims`` are those on the bench.

    Raises SettingInvalid for a number out of its range, UnknownName for a name that is not known.
    """
    rule = _text(words, "rule")
    before, after = _text(words, "before"), _text(words, "after")
    if bool(before) != bool(after) or (before and before == after):
        raise SettingInvalid(
            "Before and after are two different groups of rides.",
            where="after" if before else "before",
            hint="Choose both, or neither.",
        )
    return ListedStudy(
        rides=(),
        claim=_claim(words, claims),
        rule=DecisionRule(rule) if rule in {one.value for one in DecisionRule} else None,
        risk=_number(words, "risk"),
        at_w=_number(words, "at_w"),
        at_rpm=_number(words, "at_rpm"),
        threshold_w=_number(words, "threshold_w"),
        reference_uncertainty_pct=_number(words, "reference_uncertainty_pct"),
        before=before,
        after=after,
        margin_pct=_number(words, "margin_pct"),
        zones="" if _text(words, "zones") == OWN else _zones_known(_text(words, "zones")),
        own_zones=_own_zones(words) if _text(words, "zones") == OWN else None,
        field_riders=_field(words),
    )


def claim_choices(claims: Sequence[Claim], asked: Claim | None) -> list[tuple[str, str]]:
    """Claims on the bench but the one ``asked`` already: what the form sends, and what is read."""
    others = [claim for claim in claims if asked is None or replace(claim, name=asked.name) != asked]
    return [(ON_BENCH + claim.name, f"{claim.source}: {promise_words(claim)}") for claim in others]


def _claim(words: Mapping[str, Any], claims: Sequence[Claim]) -> Claim | None:
    name = str(words.get("claim") or "")
    if not name:
        return None
    if name.startswith(ON_BENCH):
        found = next((claim for claim in claims if claim.name == name.removeprefix(ON_BENCH)), None)
        if found is None:
            raise SettingInvalid("That claim is not on the bench.", where="claim", hint="Load the page again.")
        return replace(found, name=STATED)
    if name != OWN:
        return PUBLISHED.get(name)
    to_w = _number(words, "to_w")
    claim = Claim(
        name=STATED,
        source=_text(words, "source") or "the limit stated",
        status=ClaimStatus.STATED,
        limit_pct=_number(words, "limit_pct"),
        limit_w=_number(words, "limit_w"),
        from_w=_number(words, "from_w") or 0.0,
        to_w=math.inf if to_w is None else to_w,
        spread_pct=_number(words, "spread_pct"),
        faults_per_h=_number(words, "faults_per_h"),
    )
    if all(one is None for one in (claim.limit_pct, claim.limit_w, claim.spread_pct, claim.faults_per_h)):
        raise SettingInvalid("The claim promises nothing.", where="limit_pct", hint="Give at least one limit.")
    if claim.from_w >= claim.to_w:
        raise SettingInvalid("The range of power ends before it begins.", where="to_w", hint="Give a higher power.")
    return claim


def _own_zones(words: Mapping[str, Any]) -> ZoneSet:
    """Lines of “name, upper end in % of threshold power”; the last has no end."""
    names, upper = [], []
    lines = [line for line in str(words.get("own_zones", "")).splitlines() if line.strip()][:MOST_RIDERS]
    for line in lines:
        # A comma parts only where no semicolon does: it may be a decimal comma.
        name, _, end = line.rpartition(";" if ";" in line else ",")
        if not name:
            name, end = end, ""
        names.append(name.strip()[:MOST_LETTERS])
        value = number_of({"own_zones": end.strip().removesuffix("%")}, "own_zones")
        if value is not None:
            upper.append(value / 100)
    try:
        return ZoneSet(name="own_zones", upper=tuple(upper), names=tuple(names), source="the tester's own")
    except ValueError as error:
        raise SettingInvalid(
            "These are no zones.",
            where="own_zones",
            hint="Write a line for each zone, such as “steady; 90”, with ends that rise; the last zone has no end.",
        ) from error


def _field(words: Mapping[str, Any]) -> tuple[FieldRider, ...]:
    """Lines of “name; mean power in W”."""
    riders = []
    for line in str(words.get("field", "")).splitlines()[:MOST_RIDERS]:
        if not line.strip():
            continue
        name, _, power = line.rpartition(";")
        value = number_of({"field": power.strip().removesuffix("W")}, "field")
        if not name.strip() or value is None or not 1 <= value <= 2000:
            raise SettingInvalid(
                f"“{line.strip()[:60]}” is no rider of a field.",
                where="field",
                hint="Write a line for each, a name and the mean power in W: “rider 4; 265”.",
            )
        riders.append(FieldRider(name=" ".join(name.split())[:MOST_LETTERS], mean_w=value))
    return tuple(riders)


def _zones_known(name: str) -> str:
    return ZONE_SETS.get(name).name if name else ""


def _text(words: Mapping[str, Any], name: str) -> str:
    return " ".join(str(words.get(name) or "").split())[:MOST_LETTERS]


def _number(words: Mapping[str, Any], name: str) -> float | None:
    value, (low, high) = number_of(words, name), LIMITS[name]
    if value is not None and not low <= value <= high:
        raise SettingInvalid(
            f"{value:g} is outside {low:g} to {high:g}.".replace("-", MINUS),
            where=name,
            hint="Give one inside that range.",
        )
    return value
