"""What a tester puts right about a ride: its facts, whether it counts, whether it stays on the bench."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.web.answers import number_of, words_of
from wattwitness.web.changing import changed, changed_there
from wattwitness.web.place import place_of
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.ride_view import bout_of


async def _facts(request: Request) -> Response:
    words, ride = await words_of(request), request.path_params["ride"]
    texts = {name: str(words.get(name, "")) for name in ("name", "day", "rider", "firmware", "group")}
    facts = changes.RideFacts(**texts, temperature_c=number_of(words, "temperature_c"))
    bench = place_of(request).bench
    return await changed_there(request, lambda: changes.set_facts(bench, ride, facts), f"/rides/{ride}")


async def _exclude(request: Request) -> Response:
    words, ride = await words_of(request), request.path_params["ride"]
    bench, reason = place_of(request).bench, str(words.get("reason", ""))
    return await changed_there(request, lambda: changes.set_excluded(bench, ride, reason), f"/rides/{ride}")


def _take_off(request: Request) -> Response:
    bench, ride = place_of(request).bench, request.path_params["ride"]
    unit = bout_of(bench, ride).asked.unit_id
    others = [one for one in changes.rides_on(bench) if one.unit_id == unit and one.id != ride]
    return changed(request, lambda: changes.take_off(bench, ride), f"/units/{unit}" if others else "/")


ROUTES: list[BaseRoute] = [
    Route("/rides/{ride:int}/facts", _facts, methods=["POST"]),
    Route("/rides/{ride:int}/exclude", _exclude, methods=["POST"]),
    Route("/rides/{ride:int}/take-off", _take_off, methods=["POST"]),
]
