"""The bench: its units with their verdicts at a glance, what was changed last, and what to do next."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.bench.notes import About
from wattwitness.model.settings import CompareSettings
from wattwitness.sections.over_rides.verdict import mean_reads
from wattwitness.web.answers import part, shown, told
from wattwitness.web.pages.verdict_signs import signs_of
from wattwitness.web.place import place_of
from wattwitness.words.estimates import counted
from wattwitness.words.names import sentence_start
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench import bench_holds
from wattwitness.workflows.bench_record import last_of, record_of
from wattwitness.workflows.lone_recordings import lone_recordings_on
from wattwitness.workflows.unit_view import units_on

LAST_CHANGES = 5
NONE = "No ride counts."


def _bench(request: Request) -> Response:
    place = place_of(request)
    holds, record = bench_holds(place.bench, check=False), record_of(place.bench)
    return shown(
        request,
        "bench.html",
        units=units_on(place.bench),
        lone=lone_recordings_on(place.bench),
        originals=holds.originals,
        size_mb=holds.size_bytes / 1e6,
        changes=record[:LAST_CHANGES],
        last=last_of(record),
        notes=changes.notes_of(place.bench, About.BENCH, 0),
        tasks=[task.told() for task in place.tasks.running()],
    )


def _glance(request: Request) -> Response:
    """What is known of one unit in a line, as a part of the page."""
    view = place_of(request).studies.view(request.path_params["unit"], CompareSettings())
    says = ""
    if view.study is not None:
        mean = view.study.consistency.standardised.mean_bias_pct
        says = f"{sentence_start(mean_reads(view.study))}, against the reference." if mean.assessed else NONE
        judged_on = view.study.judged_on
        if judged_on:
            rides = counted(view.study.consistency.standardised.rides, "ride")
            says += f" Judged as it is now, on the {rides} of “{judged_on}”."
    signs = [] if view.study is None else signs_of(view.study)
    return told({"html": part("bench_glance.html", view=view, says=says, signs=signs)})


ROUTES: list[BaseRoute] = [Route("/", _bench), Route("/units/{unit:int}/glance", _glance)]
