"""What is on record: notes, and every change by hand, which can be taken back."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.bench.notes import About
from wattwitness.model.errors import SettingInvalid
from wattwitness.web.answers import came_from, number_of, shown, told, words_of
from wattwitness.web.changing import changed
from wattwitness.web.place import place_of
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench_record import last_of, record_of, undo


def _record(request: Request) -> Response:
    record = record_of(place_of(request).bench)
    return shown(request, "record.html", changes=record, last=last_of(record))


def _undo(request: Request) -> Response:
    bench, change = place_of(request).bench, request.path_params["change"]
    return changed(request, lambda: f"Taken back: {undo(bench, change)}", came_from(request))


async def _write_note(request: Request) -> Response:
    words = await words_of(request)
    try:
        about = About(str(words.get("about")))
    except ValueError as error:
        raise SettingInvalid("A note is about the bench, a unit, a ride or a meter.", where="about", hint="") from error
    about_id = int(number_of(words, "about_id") or 0)
    await run_in_threadpool(changes.add_note, place_of(request).bench, about, about_id, str(words.get("text", "")))
    return told({"goes_to": came_from(request)})


def _remove_note(request: Request) -> Response:
    changes.remove_note(place_of(request).bench, request.path_params["note"])
    return told({"goes_to": came_from(request)})


ROUTES: list[BaseRoute] = [
    Route("/record", _record),
    Route("/undo/{change:int}", _undo, methods=["POST"]),
    Route("/notes", _write_note, methods=["POST"]),
    Route("/notes/{note:int}/remove", _remove_note, methods=["POST"]),
]
