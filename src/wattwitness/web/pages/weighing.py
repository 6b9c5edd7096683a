"""Hanging weights: a worksheet typed in, what it says shown below it, and the worksheets that are kept."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.errors import WorksheetInvalid
from wattwitness.model.hanging_weights import LoadStep, Side, WeighingReport
from wattwitness.sections.weighing import CAUTION, weighing_sections
from wattwitness.web.answers import part, shown, told, words_of
from wattwitness.web.forms import download, rows_in, text_in
from wattwitness.web.place import place_of
from wattwitness.words.names import clean
from wattwitness.workflows.bench_changes import meters_on
from wattwitness.workflows.kept_texts import original_called
from wattwitness.workflows.weigh import weigh_worksheets
from wattwitness.workflows.worksheets import (
    CELLS,
    KEYS,
    SAME,
    blank_text,
    first_rows,
    form_of,
    keep_worksheet,
    keep_worksheet_text,
    kept_worksheet,
    kept_worksheets,
    put_worksheet_away,
    typed_worksheet,
    weigh_kept,
)

MOST_ROWS = 500
SIDES = ((Side.LEFT.value, "left"), (Side.RIGHT.value, "right"), (Side.BOTH.value, "both together"))
STEPS = (
    (LoadStep.ZERO_BEFORE.value, "unloaded, before"),
    (LoadStep.UP.value, "loading"),
    (LoadStep.DOWN.value, "unloading"),
    (LoadStep.ZERO_AFTER.value, "unloaded, after"),
)
MARKED = "sheet-"
AWAY = "The worksheet was put away. It stands on record, where that can be taken back."


def _weighing(request: Request) -> Response:
    bench, of = place_of(request).bench, request.query_params.get("of", "")
    blank = {**dict.fromkeys(KEYS, ""), "meter": request.query_params.get("meter", "")[:60]}
    said, rows = form_of(kept_worksheet(bench, of)) if of else (blank, first_rows())
    return shown(
        request,
        "weighing.html",
        caution=CAUTION,
        said=said,
        rows=rows,
        sides=SIDES,
        steps=STEPS,
        meters=[meter.name for meter in meters_on(bench)],
        kept=_kept(request),
    )


def _kept(request: Request) -> list[dict[str, Any]]:
    return [
        {
            "sha256": original.sha256,
            "file_name": original.file_name,
            "meter": clean(worksheet.meter),
            "date": worksheet.date,
            "readings": len(worksheet.readings),
        }
        for original, worksheet in kept_worksheets(place_of(request).bench)
    ]


async def _evaluate(request: Request) -> Response:
    return await run_in_threadpool(_evaluated, request, await words_of(request))


def _evaluated(request: Request, words: dict[str, Any]) -> Response:
    keys = {key: " ".join(text_in(words, key).split())[:200] for key in KEYS}
    rows = rows_in(words, CELLS, most=MOST_ROWS, same=SAME)
    if not rows:
        raise WorksheetInvalid(
            "No row has a reading.", where=None, hint="Write down what hangs and what the meter shows, row by row."
        )
    worksheet = typed_worksheet(keys, rows)
    report = weigh_worksheets([worksheet])
    into = {"#answer": _answer(report)}
    if words.get("keep") is True:
        kept = keep_worksheet(place_of(request).bench, worksheet)
        into["#kept"] = part("weighing_kept.html", kept=_kept(request))
        return told({"into": into, "says": f"The worksheet is on the bench as “{kept.file_name}”."})
    return told({"into": into, "says": "The worksheet was evaluated. It is not kept."})


def _answer(report: WeighingReport) -> str:
    described = [
        {
            "meter": clean(weighing.meter),
            "query": urlencode(
                {
                    "name": weighing.meter,
                    "since_day": weighing.date,
                    "budget.claim.standard_uncertainty_pct": f"{weighing.budget.standard_pct:.3g}",
                    "budget.claim.origin": "measured",
                    "budget.claim.source": f"hanging weights {weighing.date}".strip(),
                    "budget.claim.common": "true",
                },
                errors="replace",
            ),
        }
        for weighing in report.weighings[-1:]
        if weighing.gain_pct.assessed and weighing.budget.contributions
    ]
    return part("weighing_answer.html", sections=weighing_sections(report), described=described)


async def _together(request: Request) -> Response:
    words = await words_of(request)
    marked = [name.removeprefix(MARKED) for name, value in words.items() if name.startswith(MARKED) and value is True]
    report = await run_in_threadpool(weigh_kept, place_of(request).bench, marked)
    return told({"into": {"#answer": _answer(report)}, "says": "The marked worksheets were evaluated together."})


async def _take(request: Request) -> Response:
    words = await words_of(request)
    bench, text, name = place_of(request).bench, text_in(words, "text"), text_in(words, "name")
    kept = await run_in_threadpool(keep_worksheet_text, bench, text, name)
    return told({"goes_to": f"/weighing?of={kept.sha256}"})


def _one(request: Request) -> Response:
    original, path = original_called(place_of(request).bench, request.path_params["sha256"])
    kept_worksheet(place_of(request).bench, original.sha256)  # only worksheets are handed out here
    return download(path.read_bytes(), "hanging-weights.csv", "text/csv; charset=utf-8")


def _away(request: Request) -> Response:
    put_worksheet_away(place_of(request).bench, request.path_params["sha256"])
    return told({"into": {"#kept": part("weighing_kept.html", kept=_kept(request))}, "says": AWAY})


def _blank(_request: Request) -> Response:
    return download(blank_text().encode(), "hanging-weights.csv", "text/csv; charset=utf-8")


ROUTES: list[BaseRoute] = [
    Route("/weighing", _weighing),
    Route("/weighing/evaluate", _evaluate, methods=["POST"]),
    Route("/weighing/together", _together, methods=["POST"]),
    Route("/weighing/take", _take, methods=["POST"]),
    Route("/weighing/blank", _blank),
    Route("/weighing/kept/{sha256}", _one),
    Route("/weighing/kept/{sha256}/away", _away, methods=["POST"]),
]
