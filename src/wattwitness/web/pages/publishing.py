"""Publishing: what goes into it, the making of it as a task, and the files that came of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import BaseRoute, Route

from wattwitness.bench.notes import About
from wattwitness.render.inks import Ground
from wattwitness.web.answers import shown, told, words_of
from wattwitness.web.place import Place, place_of
from wattwitness.workflows.bench_changes import notes_of
from wattwitness.workflows.lone_recordings import lone_recording_on
from wattwitness.workflows.publish_all import PublishOptions
from wattwitness.workflows.published import (
    Published,
    as_one_file,
    file_of,
    publication_on,
    publish_lone_recording,
    publish_ride,
    publish_side_by_side,
    publish_unit,
    published_on,
)
from wattwitness.workflows.ride_view import bout_of
from wattwitness.workflows.unit_view import unit_on

GROUNDS = (
    (Ground.WHITE, "white, for paper and an article"),
    (Ground.DARK, "dark, for a video"),
    (Ground.OVER_LIGHT, "nothing, to be laid over something light"),
    (Ground.OVER_DARK, "nothing, to be laid over something dark"),
)
SIDE_BY_SIDE = "all units side by side"
ALONE = (
    "sandbox allow-scripts; default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data:"
)
"""A published page runs its own script, shut off from the bench: it has no origin, so it can ask nothing of us."""


def _of_bench(request: Request) -> Response:
    return _page(request, "bench", 0, SIDE_BY_SIDE, "")


def _of_unit(request: Request) -> Response:
    unit = unit_on(place_of(request).bench, request.path_params["unit"])
    return _page(request, "unit", unit.id, unit.name, f"/units/{unit.id}")


def _of_ride(request: Request) -> Response:
    ride = bout_of(place_of(request).bench, request.path_params["ride"]).asked
    return _page(request, "ride", ride.id, f"{ride.noted.name} of {ride.unit}", f"/rides/{ride.id}")


def _of_lone(request: Request) -> Response:
    lone = lone_recording_on(place_of(request).bench, request.path_params["lone"])
    return _page(request, "alone", lone.id, lone.name, f"/alone/{lone.id}")


def _page(request: Request, about: str, about_id: int, name: str, back: str) -> Response:
    place = place_of(request)
    may_have_notes = about != "alone"
    return shown(
        request,
        "publish.html",
        about=about,
        kept_notes=notes_of(place.bench, About(about), about_id) if may_have_notes else [],
        name=name,
        back=back,
        grounds=GROUNDS,
        made=published_on(place.bench, about, about_id),
        tasks=[task.told() for task in place.tasks.running() if task.title == _title(name)],
    )


def _title(name: str) -> str:
    return f"Publishing {name}"


async def _make_bench(request: Request) -> Response:
    words, place = await words_of(request), place_of(request)

    def make(options: PublishOptions, tell: Callable[[str], None]) -> str:
        return publish_side_by_side(place.bench, options, progress=tell)

    notes = await run_in_threadpool(_notes, place.bench, About.BENCH, 0, words)
    return _begun(place, SIDE_BY_SIDE, words, notes, make, "/publish")


async def _make_unit(request: Request) -> Response:
    words, place, unit_id = await words_of(request), place_of(request), request.path_params["unit"]
    unit = await run_in_threadpool(unit_on, place.bench, unit_id)

    def make(options: PublishOptions, tell: Callable[[str], None]) -> str:
        return publish_unit(place.bench, unit_id, options, progress=tell)

    notes = await run_in_threadpool(_notes, place.bench, About.UNIT, unit_id, words)
    return _begun(place, unit.name, words, notes, make, f"/units/{unit_id}/publish")


async def _make_ride(request: Request) -> Response:
    words, place, ride_id = await words_of(request), place_of(request), request.path_params["ride"]
    ride = (await run_in_threadpool(bout_of, place.bench, ride_id)).asked

    def make(options: PublishOptions, tell: Callable[[str], None]) -> str:
        return publish_ride(place.bench, ride_id, options, progress=tell)

    notes = await run_in_threadpool(_notes, place.bench, About.RIDE, ride_id, words)
    return _begun(place, f"{ride.noted.name} of {ride.unit}", words, notes, make, f"/rides/{ride_id}/publish")


async def _make_lone(request: Request) -> Response:
    words, place, lone_id = await words_of(request), place_of(request), request.path_params["lone"]
    lone = await run_in_threadpool(lone_recording_on, place.bench, lone_id)

    def make(options: PublishOptions, tell: Callable[[str], None]) -> str:
        return publish_lone_recording(place.bench, lone_id, options, progress=tell)

    return _begun(place, lone.name, words, str(words.get("notes", "")), make, f"/alone/{lone_id}/publish")


def _notes(bench: Path, about: About, about_id: int, words: dict[str, Any]) -> str:
    """The kept notes that were ticked, then what was written for this publication."""
    chosen = [note.text for note in notes_of(bench, about, about_id) if words.get(f"note-{note.id}") is True]
    return "\n\n".join(text for text in (*chosen, str(words.get("notes", ""))) if text.strip())


def _begun(
    place: Place,
    name: str,
    words: dict[str, Any],
    notes: str,
    make: Callable[[PublishOptions, Callable[[str], None]], str],
    page: str,
) -> Response:
    options = PublishOptions(
        notes=notes,
        grounds=tuple(ground for ground, _ in GROUNDS if words.get(ground.value) is True) or (Ground.WHITE,),
        with_names=words.get("with_names") is True,
        with_evidence=words.get("with_evidence") is True,
    )

    def work(tell: Callable[[str], None]) -> str:
        make(options, tell)
        return page

    return told({"task": place.tasks.begin(_title(name), work).told()})


def _file(request: Request) -> Response:
    """One published file: a page opens shut off from the bench, anything else is saved."""
    made, place = _made(request), place_of(request)
    path = file_of(place.bench, made, request.path_params["number"])
    if path.suffix == ".html":
        return FileResponse(path, media_type="text/html", headers={"content-security-policy": ALONE})
    return FileResponse(path, filename=path.name)


def _whole(request: Request) -> Response:
    made = _made(request)
    headers = {"content-disposition": f'attachment; filename="{made.name}.zip"'}
    return Response(as_one_file(place_of(request).bench, made), media_type="application/zip", headers=headers)


def _made(request: Request) -> Published:
    return publication_on(place_of(request).bench, request.path_params["name"])


ROUTES: list[BaseRoute] = [
    Route("/publish", _of_bench),
    Route("/publish", _make_bench, methods=["POST"]),
    Route("/units/{unit:int}/publish", _of_unit),
    Route("/units/{unit:int}/publish", _make_unit, methods=["POST"]),
    Route("/rides/{ride:int}/publish", _of_ride),
    Route("/rides/{ride:int}/publish", _make_ride, methods=["POST"]),
    Route("/alone/{lone:int}/publish", _of_lone),
    Route("/alone/{lone:int}/publish", _make_lone, methods=["POST"]),
    Route("/published/{name}/all", _whole),
    Route("/published/{name}/{number:int}", _file),
]
