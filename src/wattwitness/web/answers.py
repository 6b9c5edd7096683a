"""Answers of every page: a template filled, JSON, or an error in words."""

from __future__ import annotations

import json
import math
import os
import traceback
from collections.abc import Mapping
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from wattwitness import __version__
from wattwitness.model.errors import (
    BenchBusy,
    FileTooLarge,
    OutputExists,
    SettingInvalid,
    UnknownName,
    WattwitnessError,
)
from wattwitness.model.section import Section
from wattwitness.render.html_blocks import section_html
from wattwitness.web.place import place_of
from wattwitness.web.tasks import told_error, told_fault
from wattwitness.words.numbers import clock_time, seconds_offset
from wattwitness.workflows.bench_record import state_of_bench

STATUSES: dict[type[WattwitnessError], int] = {UnknownName: 404, BenchBusy: 503, FileTooLarge: 413, OutputExists: 409}
ROOMS = (
    ("/", "Bench"),
    ("/add", "Add rides"),
    ("/meters", "Meters"),
    ("/weighing", "Hanging weights"),
    ("/spot", "Spot readings"),
    ("/plan", "Plan"),
    ("/record", "On record"),
)


@cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=select_autoescape(default=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["section"] = _section
    environment.filters["day"] = _day
    environment.filters["clock"] = clock_time
    environment.filters["seconds"] = seconds_offset
    return environment


def shown(request: Request, template: str, *, status: int = 200, **words: Any) -> Response:
    """A page; every text in it is escaped by the template."""
    place = place_of(request)
    room = next((path for path, _ in ROOMS[1:] if request.url.path.startswith(path)), "/")
    text = (
        _templates()
        .get_template(template)
        .render(
            rooms=ROOMS,
            room=room,
            token=place.token,
            state=state_of_bench(place.bench),
            bench=place.bench.resolve().name,
            version=__version__,
            **words,
        )
    )
    return HTMLResponse(text, status_code=status)


def part(template: str, **words: Any) -> str:
    """A part of a page, to be put into one that is open."""
    return _templates().get_template(template).render(**words)


def told(content: Any, *, status: int = 200) -> Response:
    """JSON without numbers that it cannot hold."""
    return JSONResponse(content, status_code=status)


def failed(request: Request, error: Exception) -> Response:
    """An error as a page or as JSON, after what was asked for."""
    if isinstance(error, WattwitnessError):
        status = next((code for kind, code in STATUSES.items() if isinstance(error, kind)), 400)
        words = told_error(error)
    else:
        status, words = 500, told_fault(error)
        if os.environ.get("WATTWITNESS_TRACEBACK"):
            traceback.print_exception(error)
    if wants_page(request):
        return shown(request, "error.html", status=status, error=words)
    return told({"error": words}, status=status)


def missing(request: Request, _error: Exception) -> Response:
    """No such page."""
    words = {
        "slug": "no_page",
        "what": "There is no such page.",
        "where": request.url.path,
        "hint": "Start from the bench.",
    }
    if wants_page(request):
        return shown(request, "error.html", status=404, error=words)
    return told({"error": words}, status=404)


def came_from(request: Request) -> str:
    """The page of ours that a change was asked from, so that it is shown again; the bench where that is not known.

    Only the path is taken: nothing leads to another place.
    """
    path = urlsplit(request.headers.get("x-wattwitness-page", "/")).path
    return path if path.startswith("/") and not path.startswith("//") and "\\" not in path else "/"


def wants_page(request: Request) -> bool:
    """Whether a browser asks for a page to be shown, and not a script of ours for its data."""
    return request.method == "GET" and "text/html" in request.headers.get("accept", "")


async def words_of(request: Request) -> dict[str, Any]:
    """The JSON object that was sent. Raises a WattwitnessError for anything else."""
    try:
        words = json.loads(await request.body())
    except (ValueError, RecursionError):
        words = None
    if not isinstance(words, dict):
        raise SettingInvalid("What was sent is no form of ours.", where=request.url.path, hint="Load the page again.")
    return {_sound(name): _sound(value) for name, value in words.items()}


def _sound(value: Any) -> Any:
    """What was sent without halves of signs, which JSON can hold and UTF-8 cannot; texts inside it too."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, list):
        return [_sound(item) for item in value]
    if isinstance(value, dict):
        return {_sound(name): _sound(item) for name, item in value.items()}
    return value


def number_of(words: Mapping[str, Any], name: str) -> float | None:
    """A number from a form as a person types it, ``None`` where the field is empty. Raises SettingInvalid."""
    given = words.get(name)
    text = str(given).strip().replace("\u2212", "-").replace(",", ".") if given is not None else ""
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if isinstance(given, bool) or not math.isfinite(value):
        typed = str(given).strip()[:40]
        raise SettingInvalid(f"“{typed}” is no number.", where=name, hint="Write a number such as 12.5.")
    return value + 0.0  # no zero has a sign


def number_asked(request: Request, name: str) -> float:
    """A number from a question to the program. Raises SettingInvalid."""
    value = number_of(request.query_params, name)
    if value is None:
        raise SettingInvalid("A number is missing.", where=name, hint="Write a number such as 12.5.")
    return value


def _section(section: Section) -> Markup:
    """A section of a report; its renderer escapes every text."""
    return Markup(section_html(section, still=True))  # noqa: S704 (escaped by the renderer)


def _day(text: str) -> str:
    """A day as people write it: 3 January 2026; anything else as it stands."""
    try:
        there = date.fromisoformat(text[:10])
    except ValueError:
        return text
    return f"{there.day} {there:%B %Y}"
