"""A unit: its verdict in words, everything its rides show, and what is asked of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.bench.notes import About
from wattwitness.conformity.claims import PUBLISHED
from wattwitness.model.claim import DecisionRule
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.rider.zone_sets import ZONE_SETS
from wattwitness.sections.over_rides.registry import study_sections
from wattwitness.web.answers import shown, told, words_of
from wattwitness.web.pages.unit_question import claim_choices, question_of_form
from wattwitness.web.pages.verdict_signs import signs_of
from wattwitness.web.place import place_of
from wattwitness.words.estimates import reads_briefly
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench_studies import bench_study, claims_on
from wattwitness.workflows.unit_view import changed_by, groups_of, unit_on

RULES = (
    (DecisionRule.CONFORMANCE_PROBABILITY, "probability of conformance, with a limit of risk"),
    (DecisionRule.GUARD_BAND, "a guard band of the expanded uncertainty"),
    (DecisionRule.SIMPLE_ACCEPTANCE, "simple acceptance: the estimate alone"),
)


def _unit(request: Request) -> Response:
    place = place_of(request)
    view = place.studies.view(request.path_params["unit"], CompareSettings())
    rows = [
        {
            "ride": ride,
            "bias": reads_briefly(figures.bias_pct) if figures is not None and figures.bias_pct.assessed else "",
            "left_out": ride.noted.excluded or ("" if figures is None else figures.left_out_why or figures.left_out),
        }
        for ride, figures in zip(view.unit.rides, view.figures, strict=True)
    ]
    running = [task.told() for task in place.tasks.running() if task.title == _title(view.unit.name)]
    return shown(
        request,
        "unit.html",
        view=view,
        rows=rows,
        sections=() if view.study is None else study_sections(view.study),
        signs=[] if view.study is None else signs_of(view.study),
        asked=view.asked,
        published=list(PUBLISHED),
        claims=claim_choices(claims_on(place.bench), view.asked.claim),
        rules=RULES,
        zone_sets=[zones.name for zones in ZONE_SETS],
        groups=groups_of(view),
        notes=changes.notes_of(place.bench, About.UNIT, view.unit.id),
        notes_about=About.UNIT.value,
        notes_id=view.unit.id,
        tasks=running,
    )


def _title(unit: str) -> str:
    return f"Comparing the rides of {unit}"


def _compare(request: Request) -> Response:
    """Compare what is left to compare, as a task."""
    place = place_of(request)
    unit = unit_on(place.bench, request.path_params["unit"])

    def work(tell: Callable[[str], None]) -> str:
        tell(f"comparing, over all cores, {len(unit.rides)} rides at most")
        bench_study(place.bench, ListedStudy(rides=(), unit=unit.name), CompareSettings(), progress=tell)
        return f"/units/{unit.id}"

    return told({"task": place.tasks.begin(_title(unit.name), work).told()})


async def _would_change(request: Request) -> Response:
    """What another question would change, before it is kept."""
    return told({"says": await _about(request, keep=False)})


async def _ask(request: Request) -> Response:
    await _about(request, keep=True)
    return told({"goes_to": f"/units/{request.path_params['unit']}"})


async def _about(request: Request, *, keep: bool) -> str:
    words = await words_of(request)
    return await run_in_threadpool(_asked, request, words, keep)


def _asked(request: Request, words: dict[str, Any], keep: bool) -> str:
    bench, unit_id = place_of(request).bench, request.path_params["unit"]
    asked = question_of_form(words, claims_on(bench))
    says = changed_by(bench, unit_id, asked, CompareSettings())
    if keep:
        changes.ask_of_unit(bench, unit_id, replace(asked, rides=(), unit=""))
    return says


async def _rename(request: Request) -> Response:
    words, unit_id = await words_of(request), request.path_params["unit"]
    await run_in_threadpool(changes.rename_unit, place_of(request).bench, unit_id, str(words.get("name", "")))
    return told({"goes_to": f"/units/{unit_id}"})


ROUTES: list[BaseRoute] = [
    Route("/units/{unit:int}", _unit),
    Route("/units/{unit:int}/compare", _compare, methods=["POST"]),
    Route("/units/{unit:int}/would-change", _would_change, methods=["POST"]),
    Route("/units/{unit:int}/ask", _ask, methods=["POST"]),
    Route("/units/{unit:int}/rename", _rename, methods=["POST"]),
]
