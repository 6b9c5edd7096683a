"""The application: every page's addresses, the guard before them, and what they share."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib import import_module
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.routing import BaseRoute, Mount
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from wattwitness.model.errors import WattwitnessError
from wattwitness.web.answers import failed, missing
from wattwitness.web.guard import Guard, TooMuch, too_much
from wattwitness.web.pages import (
    add,
    bench,
    errands,
    lone,
    meters,
    plan,
    publishing,
    record,
    ride,
    ride_changes,
    spot,
    unit,
    weighing,
)
from wattwitness.web.place import Place
from wattwitness.web.tasks import Tasks
from wattwitness.workflows.ride_view import OpenRides
from wattwitness.workflows.unit_view import OpenStudies

HERE = Path(__file__).parent
ASSETS = HERE.parent / "render" / "assets"
PAGES: tuple[list[BaseRoute], ...] = (
    bench.ROUTES,
    errands.ROUTES,
    unit.ROUTES,
    ride.ROUTES,
    ride_changes.ROUTES,
    lone.ROUTES,
    publishing.ROUTES,
    record.ROUTES,
    add.ROUTES,
    meters.ROUTES,
    plan.ROUTES,
    spot.ROUTES,
    weighing.ROUTES,
)
"""The addresses of every page. A new one is one file beside these, and its name here."""

LONGEST_WAIT_S = 3.0


def _made_ready() -> None:
    """Import what the first ride would wait for."""
    for module in ("scipy.optimize", "scipy.special", "fitdecode", "wattwitness.sections.registry"):
        import_module(module)


def make_application(bench_folder: Path, *, port: int, token: str) -> ASGIApp:
    """The application over one bench, to be served on ``port`` of this machine's own address."""
    tasks = Tasks()

    @asynccontextmanager
    async def living(_app: Starlette) -> AsyncIterator[None]:
        threading.Thread(target=_made_ready, name="imports", daemon=True).start()
        yield
        tasks.stop_all(wait_s=LONGEST_WAIT_S)

    routes: list[BaseRoute] = [route for page in PAGES for route in page]
    routes.append(Mount("/static", StaticFiles(directory=HERE / "static")))
    routes.append(Mount("/parts", StaticFiles(directory=ASSETS)))
    application = Starlette(
        routes=routes,
        exception_handlers={WattwitnessError: failed, HTTPException: missing, TooMuch: too_much, Exception: failed},
        lifespan=living,
    )
    application.state.place = Place(
        bench=bench_folder,
        token=token,
        tasks=tasks,
        rides=OpenRides(bench_folder),
        studies=OpenStudies(bench_folder),
    )
    return Guard(application, port=port, token=token)
