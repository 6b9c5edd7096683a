"""Adding rides: what was dropped, what it holds, which recordings belong together, and keeping them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.errors import SettingInvalid
from wattwitness.model.settings import AloneSettings
from wattwitness.web.answers import part, shown, told, words_of
from wattwitness.web.pages import add_files
from wattwitness.web.place import place_of
from wattwitness.words.numbers import long_duration, utc_time
from wattwitness.workflows.incoming import Arrival, Batch, batch_of, batches
from wattwitness.workflows.incoming_columns import TIME_WORDS, ColumnsSaid, meanings, save_columns, show_columns
from wattwitness.workflows.incoming_kept import check_rides, keep_alone, keep_rides, known_rides
from wattwitness.workflows.incoming_parts import clean_parts
from wattwitness.workflows.incoming_rides import (
    Proposed,
    RideChoice,
    Side,
    match_sides,
    propose,
    proposed_before,
    remember,
    sides_of,
)

WORDS = ("reference", "unit", "name", "unit_name", "group", "rider", "firmware", "day")


def _add(request: Request) -> Response:
    others = [_summary(batch) for batch in batches(place_of(request).bench) if batch.arrivals]
    return shown(request, "add.html", batch="", rows=[], others=others, awaited=0, begun=False, task=None)


def _batch(request: Request) -> Response:
    bench, batch = place_of(request).bench, batch_of(place_of(request).bench, request.path_params["batch"])
    clean_parts(bench, batch.id)
    rows = [
        add_files.words_of_file(batch.id, one, add_files.facts_of(request, batch.id, one)) for one in batch.arrivals
    ]
    before = proposed_before(bench, batch)
    others = [_summary(other) for other in batches(bench) if other.id != batch.id and other.arrivals]
    return shown(
        request,
        "add.html",
        batch=batch.id,
        rows=rows,
        others=others,
        awaited=len(batch.awaited),
        begun=before is not None and before.begun,
        task=_running(request, batch.id),
    )


def _here(request: Request) -> Response:
    """Whether the program answers, and still has these files: asked by a page that waits for it."""
    return told({"files": len(batch_of(place_of(request).bench, request.path_params["batch"]).arrivals)})


def _summary(batch: Batch) -> dict[str, Any]:
    when = datetime.fromisoformat(batch.begun_at).astimezone() if batch.begun_at else None
    names = [one.shown for one in batch.arrivals[:3]]
    return {
        "id": batch.id,
        "when": f"{when.day} {when:%B %Y, %H:%M}" if when else "",
        "files": len(batch.arrivals),
        "awaited": len(batch.awaited),
        "names": names,
        "more": max(0, len(batch.arrivals) - len(names)),
    }


def _running(request: Request, batch: str) -> dict[str, object] | None:
    """The task that is at work on a batch."""
    running = place_of(request).tasks.running()
    return next((task.told() for task in running if task.title in (_pairing(batch), _keeping(batch))), None)


def _pairing(batch: str) -> str:
    return f"Looking which recordings belong together ({batch[:4]})"


def _keeping(batch: str) -> str:
    return f"Keeping the rides ({batch[:4]})"


def _pair(request: Request) -> Response:
    place, batch = place_of(request), request.path_params["batch"]

    def work(tell: Callable[[str], None]) -> str:
        propose(place.bench, batch, progress=tell)
        return f"/add/{batch}/rides"

    return told({"task": place.tasks.begin(_pairing(batch), work).told()})


def _rides(request: Request) -> Response:
    bench, batch = place_of(request).bench, batch_of(place_of(request).bench, request.path_params["batch"])
    proposed = proposed_before(bench, batch)
    if proposed is None:
        return RedirectResponse(f"/add/{batch.id}", status_code=303)
    sides = sides_of(bench, batch)
    known = known_rides(bench, batch, proposed.rides)
    return shown(
        request,
        "add_rides.html",
        batch=batch.id,
        rides=list(zip(proposed.rides, known, strict=True)),
        unused=proposed.unused,
        begun=proposed.begun,
        awaited=batch.awaited,
        blank=RideChoice(reference="", unit="", name=""),
        sides=[{"key": side.key, "shown": _side_words(side)} for side in sides],
        labels={side.key: _side_words(side) for side in sides},
        task=_running(request, batch.id),
    )


def _side_words(side: Side) -> str:
    read = side.read
    wrote = " ".join(f"{read.meter.maker} {read.meter.product}".split())
    facts = [wrote, utc_time(read.first_sample_utc) if read.first_sample_utc else "", long_duration(read.duration_s)]
    return f"{side.shown} ({', '.join(one for one in facts if one)})"


async def _match(request: Request) -> Response:
    """What the efforts say of two recordings that were chosen by hand."""
    words = await words_of(request)
    sides = (str(words.get("reference") or ""), str(words.get("unit") or ""))
    match = await run_in_threadpool(match_sides, place_of(request).bench, request.path_params["batch"], *sides)
    return told({"sentence": match.says, "doubtful": match.doubtful})


async def _keep(request: Request) -> Response:
    words = await words_of(request)
    place, batch = place_of(request), request.path_params["batch"]
    rides = _choices(words)
    now = await run_in_threadpool(batch_of, place.bench, batch)
    await run_in_threadpool(check_rides, place.bench, now, rides)  # what is wrong is told before anything is kept

    def work(tell: Callable[[str], None]) -> str:
        units = keep_rides(place.bench, batch, rides, progress=tell)
        return f"/units/{units[0]}" if len(units) == 1 else "/"

    return told({"task": place.tasks.begin(_keeping(batch), work).told()})


async def _remember(request: Request) -> Response:
    """Keep the table as it stands, so that neither a reload nor a crash loses what was typed."""
    words = await words_of(request)
    bench = place_of(request).bench
    batch = await run_in_threadpool(batch_of, bench, request.path_params["batch"])
    before = await run_in_threadpool(proposed_before, bench, batch)
    if before is not None:
        rides = tuple(_choices(words))
        now = Proposed(of=before.of, rides=rides, unused=before.unused, begun=before.begun)
        await run_in_threadpool(remember, bench, batch.id, now)
    return told({})


def _choices(words: dict[str, Any]) -> list[RideChoice]:
    rides = words.get("rides", [])
    if not isinstance(rides, list):
        raise SettingInvalid("What was sent is no list.", where="rides", hint="Load the page again.")
    return [_choice(one) for one in rides]


def _choice(one: Any) -> RideChoice:
    if not isinstance(one, dict):
        raise SettingInvalid("What was sent is no ride.", where="rides", hint="Load the page again.")
    said = {key: str(one.get(key) or "")[:500] for key in (*WORDS, "doubt", "says")}
    return RideChoice(keep=one.get("keep") is True, temperature_c=_number(one.get("temperature_c"), "°C"), **said)


def _number(text: Any, unit: str) -> float | None:
    """A number as typed, with a point or a comma; nothing where nothing was. Raises SettingInvalid."""
    words = str(text or "").strip().replace(",", ".")
    try:
        return float(words) if words else None
    except ValueError as error:
        raise SettingInvalid(f"“{words[:40]}” is no number.", where=unit, hint="Give digits alone.") from error


def _columns(request: Request) -> Response:
    bench, batch, arrival = _file(request)
    columns = show_columns(bench, batch.id, arrival.id)
    kinds = [(kind, TIME_WORDS[kind]) for kind in TIME_WORDS]
    return shown(
        request,
        "add_columns.html",
        batch=batch.id,
        file=arrival,
        table=columns,
        meanings=meanings(),
        kinds=kinds,
        facts=add_files.facts_of(request, batch.id, arrival),
    )


async def _save_columns(request: Request) -> Response:
    words = await words_of(request)
    bench, batch, arrival = await run_in_threadpool(_file, request)
    count = sum(key.startswith("column-") for key in words)
    said = ColumnsSaid(
        meanings=tuple(str(words.get(f"column-{number}", "")) for number in range(count)),
        time_kind=str(words.get("time_kind") or ""),
        step_s=_number(words.get("step_s"), "seconds between rows"),
        date_order=str(words.get("date_order") or ""),
        utc_offset_min=_number(words.get("utc_offset_min"), "minutes ahead of UTC"),
        decimal=str(words.get("decimal") or ""),
    )
    await run_in_threadpool(save_columns, bench, batch.id, arrival.id, said)
    return told({"goes_to": f"/add/{batch.id}"})


def _file(request: Request) -> tuple[Path, Batch, Arrival]:
    bench = place_of(request).bench
    batch = batch_of(bench, request.path_params["batch"])
    arrival = next((one for one in batch.here if one.id == request.path_params["file"]), None)
    if arrival is None:
        raise HTTPException(404)
    return bench, batch, arrival


def _alone(request: Request) -> Response:
    _, batch, arrival = _file(request)
    number = request.path_params["part"]
    return shown(request, "add_alone.html", batch=batch.id, file=arrival, part=number)


def _alone_answer(request: Request) -> Response:
    from wattwitness.sections.alone import alone_sections
    from wattwitness.workflows.alone import alone_file
    from wattwitness.workflows.incoming import path_of_arrival
    from wattwitness.workflows.incoming_read import mapping_path, read_facts

    bench, batch, arrival = _file(request)
    facts = read_facts(bench, batch.id, arrival)
    path, number = path_of_arrival(bench, batch.id, arrival), request.path_params["part"]
    argument = f"{path}#{number}" if len(facts.recordings) > 1 else str(path)
    mapping = mapping_path(bench, facts.mapping) if facts.mapping else None
    report = alone_file(argument, AloneSettings(), mapping=mapping)
    return told({"html": part("alone_answer.html", sections=alone_sections(report))})


def _keep_alone(request: Request) -> Response:
    bench, batch, arrival = _file(request)
    kept = keep_alone(bench, batch.id, arrival.id)
    return told({"goes_to": f"/alone/{kept[0]}" if kept else "/"})


ROUTES: list[BaseRoute] = [
    Route("/add", _add),
    *add_files.ROUTES,
    Route("/add/{batch}", _batch),
    Route("/add/{batch}/here", _here),
    Route("/add/{batch}/pair", _pair, methods=["POST"]),
    Route("/add/{batch}/rides", _rides),
    Route("/add/{batch}/remember", _remember, methods=["POST"]),
    Route("/add/{batch}/match", _match, methods=["POST"]),
    Route("/add/{batch}/keep", _keep, methods=["POST"]),
    Route("/add/{batch}/columns/{file}", _columns),
    Route("/add/{batch}/columns/{file}/save", _save_columns, methods=["POST"]),
    Route("/add/{batch}/alone/{file}/{part:int}", _alone),
    Route("/add/{batch}/alone/{file}/{part:int}/answer", _alone_answer),
    Route("/add/{batch}/keep-alone/{file}", _keep_alone, methods=["POST"]),
]
