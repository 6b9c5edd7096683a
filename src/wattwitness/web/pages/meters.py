"""Meters: what is on record of each over time, what that says, where it is used, and a form for the next setup."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wattwitness.model.budget import Distribution, Origin
from wattwitness.model.errors import SettingInvalid
from wattwitness.model.section import Section
from wattwitness.model.setup import MeterFile, Place, Sides
from wattwitness.readers.meter_file import STATED_UNITS
from wattwitness.sections.meter import budget_section, findings_section
from wattwitness.web.answers import number_of, shown, words_of
from wattwitness.web.changing import changed, changed_there
from wattwitness.web.forms import download, text_in
from wattwitness.web.place import place_of
from wattwitness.words.numbers import quantity
from wattwitness.workflows.bench_changes import unit_is_meter
from wattwitness.workflows.meters_on_bench import (
    AT_RPM,
    AT_W,
    SetupShown,
    described_by_form,
    form_of_meter,
    keep_description,
    meter_shown,
    meters_with_rides,
    set_references,
    setup_text,
    write_setup_down,
)

PLACES = (
    (Place.UNKNOWN, "not on record"),
    (Place.PEDAL, "at the pedals"),
    (Place.CRANK, "in the cranks"),
    (Place.SPIDER, "in the spider"),
    (Place.HUB, "in the hub"),
    (Place.BRAKE, "at the brake"),
)
LEGS = (
    (Sides.UNKNOWN, "not on record"),
    (Sides.BOTH, "both"),
    (Sides.LEFT_DOUBLED, "the left, doubled"),
    (Sides.RIGHT_DOUBLED, "the right, doubled"),
)
YES_NO = (("", "not on record"), ("true", "yes"), ("false", "no"))
DISTRIBUTIONS = (
    ("", "as is usual"),
    (Distribution.RECTANGULAR.value, "anywhere alike (rectangular)"),
    (Distribution.TRIANGULAR.value, "rather in the middle (triangular)"),
    (Distribution.ARCSINE.value, "rather at the ends (arcsine)"),
    (Distribution.NORMAL.value, "normal"),
)
ORIGINS = (
    ("", "as is usual"),
    (Origin.MEASURED.value, "measured"),
    (Origin.CLAIMED.value, "claimed by its maker or a certificate"),
    (Origin.ASSUMED.value, "assumed"),
)
CRANK = ("set_mm", "true_mm")
SETUP_NUMBERS = (
    ("battery_pct", "battery", "%"),
    ("temperature_c", "temperature on the ride", "°C"),
    ("zero_temperature_c", "temperature where the zero was taken", "°C"),
    ("warm_up_min", "warmed up for", "min"),
    ("hours_since_fitted", "ridden since the pedals were fitted", "h"),
)
CLAIM = "budget.claim."
MARKED = "ride-"
NO_WORDS = {"places": PLACES, "legs": LEGS, "yes_no": YES_NO, "distributions": DISTRIBUTIONS, "origins": ORIGINS}


def _meters(request: Request) -> Response:
    found = meters_with_rides(place_of(request).bench)
    rows = [
        {
            "id": meter.id,
            "name": meter.name,
            "setups": len(meter.setups),
            "latest": _in_short(meter.setups[-1].since_day, meter.setups[-1].firmware) if meter.setups else "none",
            "units": meter.units,
            "wrote": wrote,
        }
        for meter, wrote in found
    ]
    asked = dict(request.query_params)
    known = next((meter.id for meter, _ in found if meter.name == asked.get("name")), None)
    said = {} if known is None else _latest(request, known)
    if any(key.startswith(CLAIM) for key in asked):
        said = {key: value for key, value in said.items() if not key.startswith(CLAIM)}
    return shown(request, "meters.html", meters=rows, **_form({**said, **asked}))


def _in_short(since_day: str, firmware: str) -> str:
    return (f"from {since_day} on" if since_day else "from the first ride on") + (
        f", firmware {firmware}" if firmware else ""
    )


def _latest(request: Request, meter_id: int) -> dict[str, str]:
    """What the form holds of the latest description of a meter."""
    there = meter_shown(place_of(request).bench, meter_id)
    meter = next((setup.meter for setup in there.setups if setup.meter is not None), None)
    said = form_of_meter(meter) if meter is not None else {}
    if there.setups and not said:
        said["setup.firmware"] = there.setups[0].setup.firmware
    return {**said, "name": there.name}


def _form(said: Mapping[str, str]) -> dict[str, Any]:
    more = any(
        value for key, value in said.items() if key.startswith("budget.") and not key.startswith("budget.claim.")
    )
    return {"said": said, "more_stated": more, **NO_WORDS}


def _meter(request: Request) -> Response:
    there = meter_shown(place_of(request).bench, request.path_params["id"])
    setups = [_setup(there.name, one) for one in there.setups]
    return shown(request, "meter.html", meter=there, setups=setups, **_form(_latest(request, there.id)))


def _setup(name: str, one: SetupShown) -> dict[str, Any]:
    sections: list[Section] = []
    if one.meter is not None:
        sections.append(findings_section(one.findings, f"found_{one.setup.id}"))
    if one.budget is not None:
        sections.append(budget_section(one.budget, name, f"budget_{one.setup.id}", at_w=AT_W, at_rpm=AT_RPM))
    facts = [("firmware", one.setup.firmware)] if one.setup.firmware else []
    return {
        "id": one.setup.id,
        "since_day": one.setup.since_day,
        "file": one.setup.described is not None,
        "wrong": one.wrong,
        "facts": facts if one.meter is None else [*facts, *_facts(one.meter)],
        "sections": sections,
    }


def _facts(meter: MeterFile) -> list[tuple[str, str]]:
    """What a description says, in words; what is not on record stands among the findings."""
    setup = meter.setup
    facts = []
    if meter.place is not Place.UNKNOWN:
        facts.append(("takes the power", dict(PLACES)[meter.place]))
    if meter.sides is not Sides.UNKNOWN:
        facts.append(("measures", dict(LEGS)[meter.sides]))
    if setup.crank_set_mm is not None:
        facts.append(("crank length set", quantity(setup.crank_set_mm, "mm", 1)))
    if setup.crank_true_mm is not None:
        facts.append(("crank length measured", quantity(setup.crank_true_mm, "mm", 1)))
    if setup.zero_taken is not None:
        facts.append(("zero taken", "yes" if setup.zero_taken else "no"))
    for key, words, unit in SETUP_NUMBERS:
        value = getattr(setup, key)
        if value is not None:
            facts.append((words, quantity(value, unit, 0 if value == int(value) else 1)))
    return facts


async def _describe(request: Request) -> Response:
    return await run_in_threadpool(_described, request, await words_of(request))


def _described(request: Request, words: dict[str, Any]) -> Response:
    name, since = text_in(words, "name"), text_in(words, "since_day")
    if not name.strip():
        raise SettingInvalid("The meter has no name.", where="name", hint="Call it as you will know it by.")
    meter = described_by_form(_tables(words))
    bench = place_of(request).bench
    try:
        return changed(request, lambda: write_setup_down(bench, name, since, meter), _page_of)
    except SettingInvalid as error:
        where = "since_day" if error.where == "day" else error.where
        raise SettingInvalid(error.what, where=where, hint=error.hint) from error


def _page_of(meter_id: int) -> str:
    return f"/meters/{meter_id}"


def _tables(words: Mapping[str, Any]) -> dict[str, Any]:
    """The form as the tables of a description; fields that are empty stand in none. Raises SettingInvalid."""
    tables: dict[str, Any] = {key: text_in(words, key) for key in ("place", "sides") if text_in(words, key)}
    crank: dict[str, Any] = _numbers(words, "crank", CRANK)
    if words.get("crank.put_right") is True:
        crank["put_right"] = True
    setup: dict[str, Any] = _numbers(words, "setup", [key for key, _, _ in SETUP_NUMBERS])
    setup |= _yes_no(words, "setup", "zero_taken") | _texts(words, "setup", ("firmware",))
    budget = {name: stated for name, (unit, _) in STATED_UNITS.items() if (stated := _stated(words, name, unit))}
    return {
        **tables,
        **{key: table for key, table in (("crank", crank), ("setup", setup), ("budget", budget)) if table},
    }


def _stated(words: Mapping[str, Any], name: str, unit: str) -> dict[str, Any]:
    table = f"budget.{name}"
    return {
        **_numbers(words, table, (f"half_width_{unit}", f"standard_uncertainty_{unit}", "degrees")),
        **_texts(words, table, ("distribution", "origin", "source")),
        **_yes_no(words, table, "common"),
    }


def _numbers(words: Mapping[str, Any], table: str, keys: Any) -> dict[str, Any]:
    return {key: value for key in keys if (value := number_of(words, f"{table}.{key}")) is not None}


def _texts(words: Mapping[str, Any], table: str, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: value for key in keys if (value := " ".join(text_in(words, f"{table}.{key}").split()))}


def _yes_no(words: Mapping[str, Any], table: str, key: str) -> dict[str, Any]:
    said = text_in(words, f"{table}.{key}")
    if said not in ("", "true", "false"):
        raise SettingInvalid("This is neither yes nor no.", where=f"{table}.{key}", hint="Choose one of those offered.")
    return {key: said == "true"} if said else {}


async def _take(request: Request) -> Response:
    words = await words_of(request)
    name, since, text = text_in(words, "name"), text_in(words, "since_day"), text_in(words, "text")
    bench = place_of(request).bench
    return await changed_there(request, lambda: keep_description(bench, name, since, text), _page_of)


def _text(request: Request) -> Response:
    content = setup_text(place_of(request).bench, request.path_params["id"], request.path_params["setup"])
    return download(content, "meter.toml", "application/toml")


async def _unit(request: Request) -> Response:
    words = await words_of(request)
    unit = text_in(words, "unit")
    if not (unit.isascii() and unit.isdigit() and len(unit) < 19):
        raise HTTPException(404)
    return await run_in_threadpool(_is_unit, request, int(unit), is_it=True)


def _not_unit(request: Request) -> Response:
    return _is_unit(request, request.path_params["unit"], is_it=False)


def _is_unit(request: Request, unit_id: int, *, is_it: bool) -> Response:
    bench = place_of(request).bench
    there = meter_shown(bench, request.path_params["id"])
    if unit_id not in [known for known, _ in (*there.units, *there.other_units)]:
        raise HTTPException(404)
    name = there.name if is_it else ""
    return changed(request, lambda: unit_is_meter(bench, unit_id, name), f"/meters/{there.id}#belongs")


async def _references(request: Request) -> Response:
    words = await words_of(request)
    marked = [name.removeprefix(MARKED) for name, value in words.items() if name.startswith(MARKED) and value is True]
    ids = [int(one) for one in marked if one.isascii() and one.isdigit() and len(one) < 19]
    bench, meter = place_of(request).bench, request.path_params["id"]
    return await changed_there(request, lambda: set_references(bench, meter, ids))


ROUTES: list[BaseRoute] = [
    Route("/meters", _meters),
    Route("/meters/describe", _describe, methods=["POST"]),
    Route("/meters/take", _take, methods=["POST"]),
    Route("/meters/{id:int}", _meter),
    Route("/meters/{id:int}/setups/{setup:int}", _text),
    Route("/meters/{id:int}/unit", _unit, methods=["POST"]),
    Route("/meters/{id:int}/not-unit/{unit:int}", _not_unit, methods=["POST"]),
    Route("/meters/{id:int}/references", _references, methods=["POST"]),
]
