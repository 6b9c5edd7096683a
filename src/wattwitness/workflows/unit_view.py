"""A unit of a bench as a page shows it: its study where nothing is left to compare, and what is asked of it."""

from __future__ import annotations

import threading
from collections import OrderedDict
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.rides import KeptRide, rides_of
from wattwitness.model.errors import SettingInvalid, UnknownName
from wattwitness.model.ride_list import ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures, Study
from wattwitness.workflows.bench_studies import kept_study
from wattwitness.workflows.study import judge_rides

MOST_OPEN = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitOnBench:
    """A unit with its rides, in the order they came."""

    id: int
    name: str
    rides: tuple[KeptRide, ...]

    @property
    def days(self) -> tuple[str, ...]:
        """The days of its rides that are known, in their order."""
        return tuple(sorted({ride.noted.day for ride in self.rides if ride.noted.day}))


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitView:
    """A unit and what is known of it. ``changed`` rides are yet to be compared; only without any there is a
    ``study``, unless ``wrong`` says in words why it cannot be. ``figures`` holds those that are kept, by the rides.
    """

    unit: UnitOnBench
    asked: ListedStudy
    changed: int
    study: Study | None
    wrong: str
    figures: tuple[RideFigures | None, ...]


def units_on(bench: Path) -> list[UnitOnBench]:
    """Every unit that has rides, in the order they came."""
    with catalogue(bench) as connection:
        everything = rides_of(connection, bench)
    units: dict[int, list[KeptRide]] = {}
    for ride in everything:
        units.setdefault(ride.unit_id, []).append(ride)
    return [UnitOnBench(id=number, name=rides[0].unit, rides=tuple(rides)) for number, rides in units.items()]


def unit_on(bench: Path, unit_id: int) -> UnitOnBench:
    """The unit of that number. Raises UnknownName."""
    found = next((unit for unit in units_on(bench) if unit.id == unit_id), None)
    if found is None:
        raise UnknownName(
            f"There is no unit {unit_id} with rides on the bench.", where="the bench", hint="Start from it."
        )
    return found


def groups_of(view: UnitView) -> tuple[str, ...]:
    """Groups and versions of firmware that can be held against each other, in the order of the rides."""
    known = [ride.noted.group for ride in view.unit.rides]
    known += [figures.firmware if figures else ride.noted.firmware for ride, figures in _pairs(view)]
    return tuple(dict.fromkeys(name for name in known if name))


def changed_by(bench: Path, unit_id: int, asked: ListedStudy, settings: CompareSettings) -> str:
    """Say which results another question would change; nothing is changed by asking. Raises UnknownName."""
    unit = unit_on(bench, unit_id)
    now = kept_study(bench, ListedStudy(rides=(), unit=unit.name), settings)
    then = kept_study(bench, replace(asked, rides=(), unit=unit.name), settings, only_asked=True)
    again = [ride.noted.name for ride, old, new in zip(now.rides, now.keys, then.keys, strict=True) if old != new]
    if again:
        names = ", ".join(f"“{name}”" for name in again[:4]) + (" and others" if len(again) > 4 else "")
        return f"{len(again)} of {len(now.keys)} rides would be compared anew ({names}), and every verdict with them."
    if replace(now.listed, rides=()) == replace(then.listed, rides=()):
        return "Nothing would change."
    return "No ride would be compared anew; the verdicts and what follows from them would be judged again."


class OpenStudies:
    """Studies of the units that were looked at last, kept in memory by what they stand on. Safe for several threads."""

    def __init__(self, bench: Path) -> None:
        self._bench = bench
        self._kept: OrderedDict[str, Study] = OrderedDict()
        self._lock = threading.Lock()

    def view(self, unit_id: int, settings: CompareSettings) -> UnitView:
        """The unit with its study, where no ride is left to compare. Raises UnknownName."""
        unit = unit_on(self._bench, unit_id)
        kept = kept_study(self._bench, ListedStudy(rides=(), unit=unit.name), settings)
        study, wrong = None, ""
        if not kept.changed:
            key = repr((kept.keys, replace(kept.listed, rides=()), settings))
            try:
                study = self._judged(key, [kept.figures[one] for one in kept.keys], kept.listed, settings)
            except (UnknownName, SettingInvalid) as error:
                wrong = f"{error.what} {error.hint}"
        return UnitView(
            unit=unit,
            asked=replace(kept.listed, rides=(), unit=""),
            changed=len(kept.changed),
            study=study,
            wrong=wrong,
            figures=tuple(kept.figures.get(key) for key in kept.keys),
        )

    def _judged(self, key: str, figures: list[RideFigures], listed: ListedStudy, settings: CompareSettings) -> Study:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
            study = judge_rides(figures, listed, settings)
            self._kept[key] = study
            while len(self._kept) > MOST_OPEN:
                self._kept.popitem(last=False)
            return study


def _pairs(view: UnitView) -> list[tuple[KeptRide, RideFigures | None]]:
    return list(zip(view.unit.rides, view.figures, strict=True))
