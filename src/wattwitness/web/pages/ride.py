"""A ride: panels of every recording, the answer, and what the tester may change about it."""

from __future__ import annotations

import json
import struct
from typing import Any

import numpy as np
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.charts.episode_marks import episode_places, episode_spans
from wattwitness.clock.drawn import DrawnLine
from wattwitness.model.comparison import Comparison
from wattwitness.model.recording import ChannelName
from wattwitness.model.settings import CompareSettings
from wattwitness.sections.registry import sections_of
from wattwitness.web.answers import part, shown, told
from wattwitness.web.place import place_of
from wattwitness.workflows.ride_view import Bout, bout_of

ROLES = ("unit", "other", "limit", "expected")
PANELS = (
    {"name": ChannelName.POWER, "label": "power, W", "unit": "W", "share": 2.2, "floor": 0},
    {"name": "difference", "label": "difference, %", "unit": "%", "share": 1.2, "zero": True},
    {"name": ChannelName.CADENCE, "label": "cadence, rpm", "unit": "rpm", "share": 0.9, "floor": 0},
    {"name": ChannelName.RESISTANCE, "label": "resistance, the bike’s own scale", "unit": "", "share": 0.9},
    {"name": ChannelName.HEART_RATE, "label": "heart rate, bpm", "unit": "bpm", "share": 0.9},
)
HERE_ALREADY = ("ride",)
"""Sections of the report that the page's own panels stand in for."""


def _bout(request: Request) -> Bout:
    return bout_of(place_of(request).bench, request.path_params["ride"])


def _settings(_request: Request) -> CompareSettings:
    return CompareSettings()


def _page(request: Request) -> Response:
    bout = _bout(request)
    units = [
        {"name": ride.unit, "ride": ride.id, "offset_s": ride.noted.offset_s or 0.0, "by_hand": ride.noted.offset_s}
        for ride in bout.rides
    ]
    facts = {"panels": PANELS, "units": units}
    return shown(request, "ride.html", bout=bout, ride=bout.asked, facts=facts, units=units)


def _lines(request: Request) -> Response:
    """What one recording of the bout holds: the reference's at 0, then each unit's."""
    bout, rides, number = _bout(request), place_of(request).rides, request.path_params["number"]
    if number > len(bout.rides):
        raise HTTPException(404)
    if number == 0:
        reference = rides.recording(bout.asked, "reference")
        return _packed(rides.reference_lines(bout), name=reference.label or "reference", role="reference", order=0)
    ride = bout.rides[number - 1]
    lines = rides.unit_lines(ride, _settings(request).level)
    return _packed(lines, name=ride.unit, role=ROLES[(number - 1) % len(ROLES)], order=number)


def _difference(request: Request) -> Response:
    comparison, number = _comparison(request), request.path_params["number"]
    if number >= len(comparison.pairs):
        raise HTTPException(404)
    series = comparison.pairs[number].series
    line = DrawnLine(name=ChannelName.POWER, time_s=series.time_s, values=series.difference_pct)
    role = "difference" if number == 0 else ROLES[number % len(ROLES)]
    name = f"{_bout(request).rides[number].unit} against the reference"
    return _packed((line,), name=name, role=role, order=number, panel="difference", filled=number == 0)


def _comparison(request: Request) -> Comparison:
    return place_of(request).rides.comparison(_bout(request), _settings(request))


def _packed(
    lines: tuple[DrawnLine, ...], *, name: str, role: str, order: int, panel: str = "", filled: bool = False
) -> Response:
    """Lines as 32-bit floats behind a header in JSON, whose length stands before it; see ``lines`` in ride.js."""
    known = {str(one["name"]) for one in PANELS}
    drawn = [line for line in lines if (panel or str(line.name)) in known]
    header = {
        "lines": [
            {
                "panel": panel or str(line.name),
                "name": name,
                "role": role,
                "order": order,
                "filled": filled,
                "count": int(line.time_s.size),
            }
            for line in drawn
        ]
    }
    words = json.dumps(header).encode()
    body = [struct.pack("<I", len(words)), words, bytes(-len(words) % 4)]
    for line in drawn:
        body += [line.time_s.astype(np.float32).tobytes(), line.values.astype(np.float32).tobytes()]
    return Response(b"".join(body), media_type="application/octet-stream")


def _answer(request: Request) -> Response:
    comparison = _comparison(request)
    sections = [section for section in sections_of(comparison) if section.name not in HERE_ALREADY]
    words: dict[str, Any] = {
        "html": part("ride_answer.html", sections=sections),
        "places": part("ride_places.html", units=_places(_bout(request), comparison)),
        "spans": _spans(comparison),
        "compared": [pair.overall.bias_pct.assessed for pair in comparison.pairs],
    }
    return told(words)


def _spans(comparison: Comparison) -> list[dict[str, Any]]:
    return [
        {"name": span.name, "role": span.role, "start": span.start, "end": span.end, "shading": span.shading}
        for span in (span for pair in comparison.pairs for span in episode_spans(pair))
    ]


def _places(bout: Bout, comparison: Comparison) -> list[dict[str, Any]]:
    """The episodes of each unit."""
    pairs = zip(bout.rides, comparison.pairs, strict=True)
    return [{"name": ride.unit, "places": episode_places(pair)} for ride, pair in pairs]


ROUTES: list[BaseRoute] = [
    Route("/rides/{ride:int}", _page),
    Route("/rides/{ride:int}/lines/{number:int}", _lines),
    Route("/rides/{ride:int}/difference/{number:int}", _difference),
    Route("/rides/{ride:int}/answer", _answer),
]
