"""Which results a change by hand concerns: what each unit's verdict stands on, before and after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.rides import KeptRide, rides_of
from wattwitness.model.errors import WattwitnessError
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.words.estimates import counted, listed
from wattwitness.workflows.bench_studies import figures_key, kept_question, listed_ride
from wattwitness.workflows.study import ride_tasks

MOST_NAMED = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class StandsOn:
    """What a unit's verdict stands on: a key for each of its rides, and what is asked."""

    unit: str
    keys: tuple[str, ...]
    asked: ListedStudy


def verdicts_stand_on(bench: Path, settings: CompareSettings) -> dict[int, StandsOn]:
    """Every unit by its number; nothing is read but the catalogue. A unit that cannot be asked about is left out."""
    with catalogue(bench) as connection:
        everything = rides_of(connection, bench)
    units: dict[int, list[KeptRide]] = {}
    for ride in everything:
        units.setdefault(ride.unit_id, []).append(ride)
    found = {}
    for number, rides in units.items():
        try:
            asked = kept_question(bench, number)
            whole = replace(asked, unit=rides[0].unit, rides=tuple(listed_ride(bench, ride) for ride in rides))
            tasks = ride_tasks(whole, settings)
        except WattwitnessError:
            continue
        keys = tuple(figures_key(ride, task) for ride, task in zip(rides, tasks, strict=True))
        found[number] = StandsOn(unit=rides[0].unit, keys=keys, asked=asked)
    return found


def effect_words(before: Mapping[int, StandsOn], after: Mapping[int, StandsOn]) -> str:
    """Which verdicts are judged again, and how many rides are compared anew for them."""
    anew, again = [], []
    for number, now in after.items():
        was = before.get(number)
        new = len(set(now.keys) - set(() if was is None else was.keys))
        if new:
            anew.append(f"{new} of {counted(len(now.keys), 'ride')} of “{now.unit}”")
        elif was is not None and (was.keys != now.keys or was.asked != now.asked):
            again.append(f"“{now.unit}”")
    said = []
    if anew:
        said.append(f"To be compared anew: {_some(anew)}; the verdict stands again after “Compare now”.")
    if again:
        said.append(f"Judged again from what is there: {_some(again)}.")
    return " ".join(said) or "No result changes by it."


def _some(items: list[str]) -> str:
    more = len(items) - MOST_NAMED
    return listed([*items[:MOST_NAMED], f"{more} more"] if more > 0 else items)
