"""A study as a TOML list of its rides: a small file of our own that can live in version control, checked strictly."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from wattwitness.model.claim import Claim, ClaimStatus, DecisionRule
from wattwitness.model.errors import StudyFileInvalid
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.ride_list import FieldRider, ListedRide, ListedStudy
from wattwitness.model.rider import ZoneSet
from wattwitness.readers.toml_checks import (
    Check,
    Invalid,
    a_day,
    a_list_of,
    a_number,
    a_path,
    a_table,
    a_text,
    checked_items,
    checked_table,
    load_toml,
    one_of,
    refuse_unknown,
)

LIMIT_BYTES = 5_000_000
PATHS = ("mapping", "reference_mapping", "unit_mapping", "reference_meter", "unit_meter")

_STUDY: dict[str, Check] = {
    "unit": a_text,
    "rule": one_of(DecisionRule),
    "risk": a_number(0.001, 0.5),
    "at_w": a_number(20, 2000),
    "at_rpm": a_number(20, 200),
    "threshold_w": a_number(30, 1000),
    "reference_uncertainty_pct": a_number(0, 50),
    "before": a_text,
    "after": a_text,
    "margin_pct": a_number(0.01, 50),
    "zones": a_text,
}
_ZONES: dict[str, Check] = {"name": a_text, "names": a_list_of(a_text), "upper_pct": a_list_of(a_number(1, 1000))}
_CLAIM: dict[str, Check] = {
    "name": a_text,
    "source": a_text,
    "limit_pct": a_number(0, 100),
    "limit_w": a_number(0, 500),
    "from_w": a_number(0, 5000),
    "to_w": a_number(0, 5000),
    "spread_pct": a_number(0.01, 50),
    "faults_per_h": a_number(0, 100),
}
_STRETCH: dict[str, Check] = {"from_s": a_number(0, 1e6), "to_s": a_number(0, 1e6), "reason": a_text}
_RIDE: dict[str, Check] = {
    "name": a_text,
    "reference": a_path,
    "unit": a_path,
    "group": a_text,
    "rider": a_text,
    "firmware": a_text,
    "day": a_day,
    "temperature_c": a_number(-40, 60),
    "offset_s": a_number(-1e9, 1e9),
    "mapping": a_path,
    "reference_mapping": a_path,
    "unit_mapping": a_path,
    "reference_meter": a_path,
    "unit_meter": a_path,
    "exclude": a_text,
    "leave_out": a_list_of(a_table(_STRETCH)),
}
_RIDER: dict[str, Check] = {"name": a_text, "mean_w": a_number(1, 2000)}


def load_question_file(path: Path) -> ListedStudy:
    """Read and check what is asked of a unit, without its rides: the same form. Raises StudyFileInvalid."""
    listed = load_study_file(path, rides_wanted=False)
    if listed.rides:
        raise _invalid("It lists rides, and only what is asked of them is wanted here.", name=path.name)
    return listed


def load_study_file(path: Path, *, rides_wanted: bool = True) -> ListedStudy:
    """Read and check a study's list; paths in it are meant from its own folder. Raises StudyFileInvalid."""
    invalid = partial(_invalid, name=path.name)
    content = load_toml(path, limit_bytes=LIMIT_BYTES, kind="list of rides", invalid=invalid)
    refuse_unknown(
        content, {"study": None, "claim": None, "zones": None, "ride": None, "rider": None}, "table", invalid
    )
    asked = checked_table(content, "study", _STUDY, invalid)
    rides = tuple(
        _ride(item, path.parent, number, invalid) for number, item in enumerate(_tables(content, "ride", invalid), 1)
    )
    if not rides and rides_wanted:
        raise invalid("There is no ride: each is a [[ride]] with a “reference” and a “unit”.")
    names = [ride.name for ride in rides]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise invalid(f"Two rides are called “{twice}”; give each a name of its own.")
    return ListedStudy(
        rides=rides,
        claim=_claim(content, invalid),
        own_zones=_zones(content, invalid),
        field_riders=tuple(
            FieldRider(**_whole(checked_items(item, _RIDER, invalid, "[rider]"), ("name", "mean_w"), "rider", invalid))
            for item in _tables(content, "rider", invalid)
        ),
        **asked,
    )


def _ride(item: Any, folder: Path, number: int, invalid: Invalid) -> ListedRide:
    title = f"[ride] {number}"
    given = _whole(checked_items(item, _RIDE, invalid, title), ("reference", "unit"), title, invalid)
    for key in ("reference", "unit"):
        given[key] = str(folder / given[key])
    for key in PATHS:
        if key in given:
            given[key] = folder / given[key]
    given["excluded"] = given.pop("exclude", "")
    given["stretches_out"] = tuple(_stretch(one, title, invalid) for one in given.pop("leave_out", ()))
    return ListedRide(**{"name": f"ride {number}", **given})


def _stretch(given: dict[str, Any], title: str, invalid: Invalid) -> LeftOutStretch:
    if not {"from_s", "to_s"} <= given.keys() or not given.get("reason") or given["from_s"] >= given["to_s"]:
        raise invalid(f"{title} leave_out needs from_s, a later to_s, and a reason.")
    return LeftOutStretch(**given)


def _claim(content: Mapping[str, Any], invalid: Invalid) -> Claim | None:
    if "claim" not in content:
        return None
    given = checked_table(content, "claim", _CLAIM, invalid)
    if given.get("from_w", 0.0) >= given.get("to_w", float("inf")):
        raise invalid("[claim] from_w must be below to_w.")
    if not {"limit_pct", "limit_w", "spread_pct", "faults_per_h"} & given.keys():
        raise invalid("[claim] promises nothing: give limit_pct, limit_w, spread_pct or faults_per_h.")
    given.setdefault("source", "stated in the list of rides")
    return Claim(**{"name": "stated", **given}, status=ClaimStatus.STATED)


def _zones(content: Mapping[str, Any], invalid: Invalid) -> ZoneSet | None:
    if "zones" not in content:
        return None
    given = checked_table(content, "zones", _ZONES, invalid)
    for key in ("names", "upper_pct"):
        if not given.get(key):
            raise invalid(f"[zones] has no “{key}”.")
    if len(set(given["names"])) != len(given["names"]) or not all(given["names"]):
        raise invalid("[zones] names must each be a name of its own.")
    try:
        return ZoneSet(
            name=given.get("name") or "own_zones",
            upper=tuple(share / 100 for share in given["upper_pct"]),
            names=tuple(given["names"]),
            source="the tester's own",
        )
    except ValueError:
        raise invalid(
            f"[zones] has {len(given['names'])} names and {len(given['upper_pct'])} boundaries; it needs boundaries in "
            "percent of threshold power that rise, and one name more than boundaries."
        ) from None


def _tables(content: Mapping[str, Any], key: str, invalid: Invalid) -> list[Any]:
    value = content.get(key, [])
    if not isinstance(value, list):
        raise invalid(f"Write each {key} as [[{key}]], with two brackets.")
    return value


def _whole(given: dict[str, Any], needed: tuple[str, ...], title: str, invalid: Invalid) -> dict[str, Any]:
    for key in needed:
        if not given.get(key):
            raise invalid(f"{title} has no “{key}”.")
    return given


def _invalid(what: str, *, name: str) -> StudyFileInvalid:
    hint = "Correct what is named; the page on studies shows a whole list."
    return StudyFileInvalid(what, where=name, hint=hint)
