"""Planning: what is claimed and known in, ride sheet and workouts out. A plan's address holds all that was asked."""

from __future__ import annotations

import hashlib
import re
import time
from collections.abc import Callable, Mapping
from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.conformity.claims import PUBLISHED
from wattwitness.conformity.rules import RuleSettings
from wattwitness.model.claim import Claim, ClaimStatus, DecisionRule
from wattwitness.model.errors import SettingInvalid, WattwitnessError
from wattwitness.model.plan import RidePlan, StepKind
from wattwitness.model.section import Section
from wattwitness.plan.assemble import PlanQuestion
from wattwitness.sections.plan import READY, plan_sections
from wattwitness.web.answers import number_of, shown, told, words_of
from wattwitness.web.forms import download, rows_in
from wattwitness.web.place import place_of
from wattwitness.web.tasks import told_error
from wattwitness.words.numbers import typeset
from wattwitness.workflows.plan import own_ride
from wattwitness.workflows.plan_asked import (
    RANGES,
    KnownOfUnit,
    checked_cadences,
    checked_number,
    known_of_unit,
    plan_at_hand,
)
from wattwitness.workflows.unit_view import units_on

STEP = ("kind", "minutes", "power_w", "end_w", "cadence_rpm")
KINDS = ((StepKind.WARM_UP.value, "warm-up"), (StepKind.MEASURE.value, "step"), (StepKind.COOL_DOWN.value, "cool-down"))
RULES = (
    (DecisionRule.CONFORMANCE_PROBABILITY.value, "probability of conformance, with a limit of risk"),
    (DecisionRule.GUARD_BAND.value, "guard band of the expanded uncertainty"),
    (DecisionRule.SIMPLE_ACCEPTANCE.value, "simple acceptance: the estimate alone"),
)
FIELDS = (*RANGES, "claim", "cadences_rpm", "rule", "from_unit")
MOST_STEPS = 100
"""They stand in the address of the plan, which has room for no more."""


def question_of(words: Mapping[str, Any]) -> PlanQuestion:
    """What a form asks. Raises a WattwitnessError that names the field."""
    numbers = {name: checked_number(name, number_of(words, name)) for name in RANGES}
    given = {
        name: numbers[name]
        for name in ("reference_uncertainty_pct", "threshold_w", "spread_pct", "bias_pct", "bias_sd_pct", "step_s")
        if numbers[name] is not None
    }
    given |= {name: int(value) for name in ("rides", "repeats", "seed") if (value := numbers[name]) is not None}
    if (highest := numbers["highest_pct"]) is not None:
        given["highest_share"] = highest / 100
    if (warm_up := numbers["warm_up_min"]) is not None:
        given["warm_up_s"] = 60 * warm_up
    if (chance := numbers["chance"]) is not None:
        given["asked_chance"] = chance
    risk = numbers["risk"]
    rule = RuleSettings(rule=_rule(words)) if risk is None else RuleSettings(rule=_rule(words), risk=risk)
    asked: dict[str, Any] = {**given, "claim": _claim(words, numbers["limit_pct"]), "rule": rule, "own": _own(words)}
    if cadences := _cadences(words):
        asked["cadences_rpm"] = cadences
    return PlanQuestion(**asked)


def _claim(words: Mapping[str, Any], limit_pct: float | None) -> Claim | None:
    name = str(words.get("claim") or "")
    if not name:
        if limit_pct is None:
            return None
        return Claim(name="stated", source="the limit stated", status=ClaimStatus.STATED, limit_pct=limit_pct)
    if limit_pct is not None:
        raise SettingInvalid(
            "A published claim and a limit of your own are both given.", where="limit_pct", hint="Give one of the two."
        )
    return PUBLISHED.get(name)


def _rule(words: Mapping[str, Any]) -> DecisionRule:
    name = words.get("rule") or DecisionRule.CONFORMANCE_PROBABILITY.value
    if name not in [rule.value for rule in DecisionRule]:
        raise SettingInvalid("This is no rule of ours.", where="rule", hint="Choose one of those offered.")
    return DecisionRule(name)


def _cadences(words: Mapping[str, Any]) -> tuple[float, ...]:
    parts = [part for part in re.split(r"[;\s]+|,(?=\s)", str(words.get("cadences_rpm") or "")) if part]
    try:
        cadences = tuple(float(part.replace(",", ".")) for part in parts[:100])
    except ValueError:
        cadences = (0.0,)
    return checked_cadences(cadences) if parts else ()


def _steps(words: Mapping[str, Any]) -> list[dict[str, str]]:
    return rows_in(words, STEP, most=MOST_STEPS, same=("kind", "cadence_rpm"))


def _own(words: Mapping[str, Any]) -> RidePlan | None:
    rows = _steps(words)
    if not rows:
        return None
    return own_ride(
        {
            "kind": row["kind"],
            **{name: value for name in STEP[1:] if (value := number_of(row, name)) is not None},
        }
        for row in rows
    )


def _query(words: Mapping[str, Any]) -> str:
    """The address of what was asked: the fields that are filled in, and the steps with numbers of their own."""
    kept = {name: str(words[name]) for name in FIELDS if name != "from_unit" and str(words.get(name) or "").strip()}
    for place, row in enumerate(_steps(words), start=1):
        kept |= {f"{name}.{place}": row[name] for name in STEP if row[name]}
    return urlencode({**kept, "planned": "yes"}, errors="replace")


def _plan(request: Request) -> Response:
    bench, words = place_of(request).bench, dict(request.query_params)
    sections: tuple[Section, ...] = ()
    orders: tuple[str, ...] = ()
    wrong, found = None, [(unit.id, unit.name) for unit in units_on(bench)]
    if words.get("planned"):
        try:
            made = plan_at_hand(question_of(words))
            sections, orders = plan_sections(made), tuple(ride.name for ride in made.orders)
        except WattwitnessError as error:
            wrong = told_error(error)
    return shown(
        request,
        "plan.html",
        said=words,
        own=_steps(words),
        sections=sections,
        orders=orders,
        wrong=wrong,
        query=_query(words),
        caution=typeset(READY),
        kinds=KINDS,
        rules=RULES,
        claims=[
            ("", "none, or a limit of your own"),
            *((one.name, one.source) for one in PUBLISHED),
        ],
        units=[("", "nothing: leave it to the plan"), *found] if found else [],
    )


async def _make(request: Request) -> Response:
    return await run_in_threadpool(_made, request, await words_of(request))


def _made(request: Request, words: dict[str, Any]) -> Response:
    place = place_of(request)
    question_of(words)
    unit_id = number_of(words, "from_unit")

    def work(tell: Callable[[str], None]) -> str:
        filled = dict(words)
        if unit_id is not None:
            tell("reading the rides of the unit")
            filled |= _filled(words, known_of_unit(place.bench, int(unit_id), progress=tell))
        tell("drawing studies")
        plan_at_hand(question_of(filled))
        return f"/plan?{_query(filled)}"

    mark = hashlib.sha256(f"{unit_id} {_query(words)}".encode()).hexdigest()[:4]
    return told({"task": place.tasks.begin(f"Planning the rides ({mark})", work).told()})


def _filled(words: Mapping[str, Any], known: KnownOfUnit) -> dict[str, str]:
    """What the rides of a unit say, for the fields that were left empty."""
    values = {name: getattr(known, name) for name in RANGES if hasattr(known, name) and name != "rides"}
    return {
        name: f"{value:g}"
        for name, value in values.items()
        if value is not None and not str(words.get(name) or "").strip()
    }


def _sheet(request: Request) -> Response:
    words = dict(request.query_params)
    made = plan_at_hand(question_of(words))
    return shown(request, "plan_sheet.html", sections=plan_sections(made), query=_query(words))


def _page(request: Request) -> Response:
    from wattwitness.render.plan_html import plan_page

    page = plan_page(plan_at_hand(question_of(request.query_params)))
    return download(page.encode(), "ride-sheet.html", "text/html; charset=utf-8")


def _workout(request: Request) -> Response:
    from wattwitness.workflows.plan import workout_of

    made = plan_at_hand(question_of(request.query_params))
    order = request.query_params.get("order", "0")
    if order not in [str(place) for place in range(len(made.orders))]:
        raise HTTPException(404)
    content = workout_of(made, order=int(order), made_utc_s=time.time())
    return download(content, f"{made.orders[int(order)].name.replace(' ', '-')}.fit", "application/octet-stream")


ROUTES: list[BaseRoute] = [
    Route("/plan", _plan),
    Route("/plan/make", _make, methods=["POST"]),
    Route("/plan/sheet", _sheet),
    Route("/plan/page", _page),
    Route("/plan/workout", _workout),
]
