"""Files on their way in: each sent by itself, straight to the disk; then read, and told what it holds."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.errors import SettingInvalid, UnknownName, WattwitnessError
from wattwitness.model.inspection import RecordingInspection
from wattwitness.web.answers import failed, part, told, words_of
from wattwitness.web.place import place_of
from wattwitness.web.tasks import told_error
from wattwitness.words.estimates import listed
from wattwitness.words.names import clean
from wattwitness.words.numbers import long_duration, utc_time
from wattwitness.workflows.incoming import Announced, Arrival, announce, arrival_of, begin_batch, take_out, throw_away
from wattwitness.workflows.incoming_columns import QUANTITIES
from wattwitness.workflows.incoming_parts import receive
from wattwitness.workflows.incoming_read import FileFacts, facts_known, read_facts


def row_of(batch: str, arrival: Arrival, facts: FileFacts | None) -> str:
    """One file as the list shows it."""
    return part("add_file.html", **words_of_file(batch, arrival, facts))


def words_of_file(batch: str, arrival: Arrival, facts: FileFacts | None) -> dict[str, Any]:
    """What a template shows of one file."""
    recordings = [_recording(one) for one in facts.recordings] if facts else []
    states = ((arrival.same_as, "same"), (arrival.awaited, "awaited"), (facts is None, "unread"))
    state = next((name for holds, name in states if holds), "wrong" if facts and facts.wrong else "read")
    return {"batch": batch, "file": arrival, "facts": facts, "recordings": recordings, "state": state}


def _recording(one: RecordingInspection) -> dict[str, Any]:
    channels = listed([QUANTITIES[channel.name] for channel in one.channels])
    wrote = " ".join(f"{one.meter.maker} {one.meter.product}".split())
    return {
        "wrote": clean(wrote),
        "start": utc_time(one.first_sample_utc) if one.first_sample_utc else "no date in the file",
        "length": long_duration(one.duration_s),
        "channels": channels,
        "notices": one.notices,
    }


def _begin(request: Request) -> Response:
    return told({"batch": begin_batch(place_of(request).bench)})


async def _announce(request: Request) -> Response:
    words = await words_of(request)
    files = [_announced(one) for one in _list_in(words, "files")]
    batch = request.path_params["batch"]
    answers = await run_in_threadpool(announce, place_of(request).bench, batch, files)
    return told({"answers": [_answered(batch, one) for one in answers]})


def _list_in(words: dict[str, Any], name: str) -> list[Any]:
    found = words.get(name)
    if not isinstance(found, list):
        raise SettingInvalid("What was sent is no list.", where=name, hint="Load the page again.")
    return found


def _announced(one: Any) -> Announced:
    if (
        isinstance(one, dict)
        and isinstance(one.get("name"), str)
        and isinstance(one.get("folder"), str)
        and type(one.get("size")) is int
    ):
        return Announced(name=one["name"], folder=one["folder"], size_bytes=one["size"])
    raise SettingInvalid("What was sent names no file.", where="files", hint="Load the page again.")


def _answered(batch: str, answer: Arrival | WattwitnessError) -> dict[str, Any]:
    if isinstance(answer, WattwitnessError):
        return {"error": told_error(answer)}
    return {"file": answer.id, "row": row_of(batch, answer, None)}


async def _take(request: Request) -> Response:
    """One file as a raw body. ``file`` names one that was announced; ``name`` one that was not."""
    bench, batch = place_of(request).bench, request.path_params["batch"]
    file = request.query_params.get("file", "")
    if not file:
        file = await run_in_threadpool(_unannounced, request)
    receiving = await run_in_threadpool(receive, bench, batch, file)
    try:
        async for piece in request.stream():
            receiving.take(piece)
        arrival = await run_in_threadpool(receiving.end)
    except ClientDisconnect:
        receiving.give_up()
        return Response(status_code=400)
    except WattwitnessError as error:
        # What is still on its way is not read: the connection ends with the answer.
        receiving.give_up()
        answer = failed(request, error)
        answer.headers["connection"] = "close"
        return answer
    except BaseException:
        receiving.give_up()
        raise
    return told({"file": arrival.id, "row": row_of(batch, arrival, None)})


def _unannounced(request: Request) -> str:
    """Announce a file by its name and the length of its body; gives its id. Raises what an announcement does."""
    name, length = request.query_params.get("name", ""), request.headers.get("content-length", "")
    if not name or not (length.isascii() and length.isdigit()):
        raise SettingInvalid(
            "It is not said which file this is, or how long.", where="name", hint="Give its name and its length."
        )
    said = Announced(name=name, folder=request.query_params.get("folder", ""), size_bytes=int(length))
    answer = announce(place_of(request).bench, request.path_params["batch"], [said])[0]
    if isinstance(answer, WattwitnessError):
        raise answer
    return answer.id


def _read(request: Request) -> Response:
    bench, batch = place_of(request).bench, request.path_params["batch"]
    arrival = arrival_of(bench, batch, request.path_params["file"])
    facts = None if not arrival.place else read_facts(bench, batch, arrival)
    return told({"row": row_of(batch, arrival, facts)})


async def _out(request: Request) -> Response:
    """Take files out; those that are gone already are no matter."""
    words = await words_of(request)
    bench, batch = place_of(request).bench, request.path_params["batch"]
    for file in _list_in(words, "files"):
        await run_in_threadpool(_take_out, bench, batch, str(file))
    return told({})


def _take_out(bench: Path, batch: str, file: str) -> None:
    try:
        take_out(bench, batch, file)
    except UnknownName:
        return


def _throw(request: Request) -> Response:
    throw_away(place_of(request).bench, request.path_params["batch"])
    return told({"goes_to": "/add"})


def facts_of(request: Request, batch: str, arrival: Arrival) -> FileFacts | None:
    """What is known of a file so far."""
    return facts_known(place_of(request).bench, batch, arrival)


ROUTES: list[BaseRoute] = [
    Route("/add/begin", _begin, methods=["POST"]),
    Route("/add/files/{batch}", _take, methods=["PUT", "POST"]),
    Route("/add/{batch}/announce", _announce, methods=["POST"]),
    Route("/add/{batch}/read/{file}", _read, methods=["POST"]),
    Route("/add/{batch}/out", _out, methods=["POST"]),
    Route("/add/{batch}/throw", _throw, methods=["POST"]),
]
