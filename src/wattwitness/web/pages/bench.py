"""The bench: its units with their verdicts at a glance, and what to do next."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.web.answers import shown
from wattwitness.web.place import place_of
from wattwitness.workflows.bench import bench_holds


def _bench(request: Request) -> Response:
    holds = bench_holds(place_of(request).bench, check=False)
    units = dict.fromkeys(ride.unit for ride in holds.rides)
    rows = [{"name": unit, "rides": sum(ride.unit == unit for ride in holds.rides)} for unit in units]
    return shown(request, "bench.html", units=rows, originals=holds.originals, size_mb=holds.size_bytes / 1e6)


ROUTES: list[BaseRoute] = [Route("/", _bench)]
