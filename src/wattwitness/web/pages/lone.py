"""A recording on the bench with no second meter beside it: what it shows of itself."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.settings import AloneSettings
from wattwitness.sections.alone import alone_sections
from wattwitness.web.answers import part, shown, told
from wattwitness.web.place import place_of
from wattwitness.workflows.lone_recordings import lone_recording_on, lone_report, take_lone_recording_off


def _page(request: Request) -> Response:
    return shown(request, "lone.html", lone=lone_recording_on(place_of(request).bench, request.path_params["lone"]))


def _answer(request: Request) -> Response:
    bench = place_of(request).bench
    lone = lone_recording_on(bench, request.path_params["lone"])
    return told({"html": part("alone_answer.html", sections=alone_sections(lone_report(bench, lone, AloneSettings())))})


def _take_off(request: Request) -> Response:
    take_lone_recording_off(place_of(request).bench, request.path_params["lone"])
    return told({"goes_to": "/"})


ROUTES: list[BaseRoute] = [
    Route("/alone/{lone:int}", _page),
    Route("/alone/{lone:int}/answer", _answer),
    Route("/alone/{lone:int}/take-off", _take_off, methods=["POST"]),
]
