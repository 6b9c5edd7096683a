"""A ride: panels of every recording, the answer, and what the tester may change about it."""

from __future__ import annotations

import json
import struct
from dataclasses import replace
from functools import partial
from typing import Any

import numpy as np
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.bench.notes import About
from wattwitness.charts import panels
from wattwitness.charts.episode_marks import episode_places, episode_spans, left_out_spans
from wattwitness.clock.drawn import DrawnLine
from wattwitness.model.chart import Chart, Span
from wattwitness.model.comparison import Comparison
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.recording import ChannelName
from wattwitness.model.section import Section
from wattwitness.model.settings import CompareSettings
from wattwitness.sections.registry import sections_of
from wattwitness.web.answers import number_asked, number_of, part, shown, told, words_of
from wattwitness.web.changing import changed_there
from wattwitness.web.place import place_of
from wattwitness.words.numbers import clock_time
from wattwitness.workflows import bench_changes as changes
from wattwitness.workflows.bench_studies import ride_settings
from wattwitness.workflows.ride_view import Bout, bout_of
from wattwitness.workflows.stretch import stretch_of_pair, stretch_sentence

ROLES = ("unit", "other", "limit", "expected")
PANELS = (
    {"name": ChannelName.POWER, "label": "power, W", "unit": "W", "share": 2.2, "floor": 0},
    {"name": "difference", "label": "difference, means of 30 s, %", "unit": "%", "share": 1.2, "zero": True},
    {"name": ChannelName.CADENCE, "label": "cadence, rpm", "unit": "rpm", "share": 0.9, "floor": 0},
    {"name": ChannelName.RESISTANCE, "label": "resistance, the bike’s own scale", "unit": "", "share": 0.9},
    {"name": ChannelName.HEART_RATE, "label": "heart rate, bpm", "unit": "bpm", "share": 0.9},
)


def _bout(request: Request) -> Bout:
    return bout_of(place_of(request).bench, request.path_params["ride"])


def _settings(request: Request) -> CompareSettings:
    return ride_settings(place_of(request).bench, _bout(request).asked.unit_id)


def _page(request: Request) -> Response:
    bout = _bout(request)
    units = [
        {"name": ride.unit, "ride": ride.id, "offset_s": ride.noted.offset_s or 0.0, "by_hand": ride.noted.offset_s}
        for ride in bout.rides
    ]
    facts = {"panels": PANELS, "units": units}
    notes = changes.notes_of(place_of(request).bench, About.RIDE, bout.asked.id)
    return shown(
        request,
        "ride.html",
        ride=bout.asked,
        facts=facts,
        units=units,
        notes=notes,
        notes_about=About.RIDE.value,
        notes_id=bout.asked.id,
    )


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
    named = rides.recording(bout.asked, "reference").label or "reference"
    name = f"{ride.unit} (unit)" if ride.unit == named else ride.unit
    return _packed(lines, name=name, role=ROLES[(number - 1) % len(ROLES)], order=number)


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
    sections = [_without_panels(section) for section in sections_of(comparison)]
    words: dict[str, Any] = {
        "html": part("ride_answer.html", sections=sections),
        "places": part("ride_places.html", units=_places(_bout(request), comparison)),
        "spans": _spans(comparison),
        "missing": [
            f"{ride.unit} is not drawn, for no one clock was found. Give its seconds by hand, further down, to see it."
            for ride, pair in zip(_bout(request).rides, comparison.pairs, strict=True)
            if not pair.clock.status.usable
        ],
        "offsets": [pair.clock.offset_s.value for pair in comparison.pairs],
        "compared": [pair.overall.bias_pct.assessed for pair in comparison.pairs],
    }
    return told(words)


def _without_panels(section: Section) -> Section:
    """The report's panels are the page's own; the numbers behind them stay."""
    blocks = tuple(block for block in section.blocks if not (isinstance(block, Chart) and block.name == panels.NAME))
    return replace(section, blocks=blocks)


def _spans(comparison: Comparison) -> list[dict[str, Any]]:
    """What is shaded: episodes with their number in the list of the unit in that ``row``, and what was left out."""
    spans = []
    for row, pair in enumerate(comparison.pairs):
        spans += [_span(span, row=row, number=number) for number, span in enumerate(episode_spans(pair), start=1)]
        spans += [_span(span, row=row, number=None) for span in left_out_spans(pair)]
    return spans


def _span(span: Span, *, row: int, number: int | None) -> dict[str, Any]:
    looks = {"name": span.name, "role": span.role, "shading": span.shading}
    return {**looks, "start": span.start, "end": span.end, "row": row, "number": number}


def _places(bout: Bout, comparison: Comparison) -> list[dict[str, Any]]:
    """The episodes of each unit."""
    pairs = zip(bout.rides, comparison.pairs, strict=True)
    return [
        {"name": ride.unit, "places": episode_places(pair), "looked": pair.faults is not None} for ride, pair in pairs
    ]


def _stretch(request: Request) -> Response:
    """What the chosen stretch shows, of each unit."""
    from_s, to_s = (number_asked(request, name) for name in ("from_s", "to_s"))
    if to_s <= from_s:
        raise SettingInvalid("The stretch ends before it begins.", where="to_s", hint="Give the later time second.")
    pairs = _comparison(request).pairs
    ends_s = max((float(pair.series.time_s[-1]) for pair in pairs if pair.series.time_s.size), default=0.0)
    if 0 < ends_s <= from_s:
        raise SettingInvalid(
            f"The ride ends at {clock_time(ends_s)}.", where="from_s", hint="Choose a stretch inside the ride."
        )
    to_s = min(to_s, ends_s + 1) if ends_s > 0 else to_s
    said = [stretch_sentence(pair, stretch_of_pair(pair, from_s, to_s)) for pair in pairs]
    return told({"says": " ".join(said)})


def _trial(request: Request) -> Response:
    """What an offset by hand would do to one unit's bias."""
    bout, number = _bout(request), request.path_params["number"]
    if number >= len(bout.rides):
        raise HTTPException(404)
    says = place_of(request).rides.trial_sentence(bout.rides[number], number_asked(request, "offset_s"))
    return told({"says": says})


async def _clock(request: Request) -> Response:
    words = await words_of(request)
    ride, offset_s = _ride_meant(request, words), number_of(words, "offset_s")
    if offset_s is not None:
        await run_in_threadpool(_leaves_something, request, ride, offset_s)
    bench = place_of(request).bench
    return await changed_there(request, lambda: changes.set_offset(bench, ride, offset_s), _this(request))


def _leaves_something(request: Request, ride_id: int, offset_s: float) -> None:
    """Raises SettingInvalid for an offset at which the two recordings have no minute in common."""
    ride = next(one for one in _bout(request).rides if one.id == ride_id)
    if not place_of(request).rides.shares_a_minute(ride, offset_s):
        raise SettingInvalid(
            f"With {offset_s:g} s the two recordings would share less than a minute with power.",
            where="offset_s",
            hint="Look at the lines above: they should lie on one another.",
        )


async def _leave_out(request: Request) -> Response:
    words = await words_of(request)
    from_s, to_s = number_of(words, "from_s"), number_of(words, "to_s")
    if from_s is None or to_s is None:
        raise SettingInvalid("A stretch needs both times.", where="from_s, to_s", hint="Choose a stretch first.")
    stretch = LeftOutStretch(from_s=from_s, to_s=to_s, reason=str(words.get("reason", "")))
    bench, ride = place_of(request).bench, request.path_params["ride"]
    others = await run_in_threadpool(_others, request)
    leave_out = partial(changes.leave_out, bench, ride, stretch, others=others)
    return await changed_there(request, leave_out, _this(request))


async def _take_in(request: Request) -> Response:
    ride, place, from_s = (request.path_params[name] for name in ("ride", "place", "from_s"))
    bench = place_of(request).bench
    others = await run_in_threadpool(_others, request)
    again = partial(changes.take_in_again, bench, ride, place, from_s=from_s, others=others)
    return await changed_there(request, again, _this(request))


def _others(request: Request) -> list[int]:
    """The other units' rides of the same bout: what is left out of the page is left out of each of them."""
    return [ride.id for ride in _bout(request).rides[1:]]


def _this(request: Request) -> str:
    return f"/rides/{request.path_params['ride']}"


def _ride_meant(request: Request, words: dict[str, Any]) -> int:
    """The ride of the bout that a form is about; only one that the page shows can be."""
    meant = int(number_of(words, "ride") or request.path_params["ride"])
    if meant not in [ride.id for ride in _bout(request).rides]:
        raise UnknownName("There is no such ride on this page.", where="ride", hint="Load the page again.")
    return meant


ROUTES: list[BaseRoute] = [
    Route("/rides/{ride:int}", _page),
    Route("/rides/{ride:int}/lines/{number:int}", _lines),
    Route("/rides/{ride:int}/difference/{number:int}", _difference),
    Route("/rides/{ride:int}/answer", _answer),
    Route("/rides/{ride:int}/stretch", _stretch),
    Route("/rides/{ride:int}/trial/{number:int}", _trial),
    Route("/rides/{ride:int}/clock", _clock, methods=["POST"]),
    Route("/rides/{ride:int}/leave-out", _leave_out, methods=["POST"]),
    Route("/rides/{ride:int}/stretches/{place:int}/{from_s:float}/take-in", _take_in, methods=["POST"]),
]
