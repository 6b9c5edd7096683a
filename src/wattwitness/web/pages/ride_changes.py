"""What a tester puts right about a ride: its facts, whether it counts, whether it stays on the bench."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.web.answers import number_of, told, words_of
from wattwitness.web.place import place_of
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.ride_view import bout_of


async def _facts(request: Request) -> Response:
    words, ride = await words_of(request), request.path_params["ride"]
    texts = {name: str(words.get(name, "")) for name in ("name", "day", "rider", "firmware", "group")}
    facts = changes.RideFacts(**texts, temperature_c=number_of(words, "temperature_c"))
    await run_in_threadpool(changes.set_facts, place_of(request).bench, ride, facts)
    return told({"goes_to": f"/rides/{ride}"})


async def _exclude(request: Request) -> Response:
    words, ride = await words_of(request), request.path_params["ride"]
    await run_in_threadpool(changes.set_excluded, place_of(request).bench, ride, str(words.get("reason", "")))
    return told({"goes_to": f"/rides/{ride}"})


def _take_off(request: Request) -> Response:
    bench, ride = place_of(request).bench, request.path_params["ride"]
    unit = bout_of(bench, ride).asked.unit_id
    changes.take_off(bench, ride)
    left = unit in {one.unit_id for one in changes.rides_on(bench)}
    return told({"goes_to": f"/units/{unit}" if left else "/"})


ROUTES: list[BaseRoute] = [
    Route("/rides/{ride:int}/facts", _facts, methods=["POST"]),
    Route("/rides/{ride:int}/exclude", _exclude, methods=["POST"]),
    Route("/rides/{ride:int}/take-off", _take_off, methods=["POST"]),
]
