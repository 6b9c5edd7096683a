"""Spot readings: what a display showed, typed in or pasted, and laid among the files to add."""

from __future__ import annotations

from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.errors import SpotReadingInvalid
from wattwitness.web.answers import shown, told, words_of
from wattwitness.web.forms import rows_in, text_in
from wattwitness.web.place import place_of
from wattwitness.workflows.incoming import Batch, batches
from wattwitness.workflows.spot_typed import CELLS, KEYS, put_spot, text_of_paste, text_of_rows

MOST_ROWS = 2000


def _spot(request: Request) -> Response:
    waiting = [(batch.id, _named(batch)) for batch in batches(place_of(request).bench) if batch.arrivals]
    return shown(
        request, "spot.html", waiting=[("", "nothing: the recording comes later"), *waiting] if waiting else []
    )


def _named(batch: Batch) -> str:
    first, more = batch.arrivals[0].shown, len(batch.arrivals) - 1
    return f"{first} and {more} more" if more else first


async def _save(request: Request) -> Response:
    return await run_in_threadpool(_saved, request, await words_of(request))


def _saved(request: Request, words: dict[str, Any]) -> Response:
    keys = {key: " ".join(text_in(words, key).split())[:40] for key in KEYS}
    rows, pasted = rows_in(words, CELLS, most=MOST_ROWS), text_in(words, "pasted")
    if rows and pasted.strip():
        raise SpotReadingInvalid(
            "Readings were both typed and pasted.",
            where="pasted",
            hint="Empty one of the two.",
        )
    if not rows and not pasted.strip():
        raise SpotReadingInvalid(
            "There are no readings.", where="at.1", hint="Write the time, then what the display showed."
        )
    text = text_of_rows(keys, rows) if rows else text_of_paste(keys, pasted)
    name = " ".join(text_in(words, "name").split())
    batch, _ = put_spot(place_of(request).bench, text, name, batch=text_in(words, "batch"))
    return told({"goes_to": f"/add/{batch}"})


ROUTES: list[BaseRoute] = [Route("/spot", _spot), Route("/spot/save", _save, methods=["POST"])]
