"""Studies of the units on a bench: what is asked is kept, what was compared before is not compared again."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Set
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

from wattwitness import __version__
from wattwitness.bench.catalogue import FILE_NAME, catalogue
from wattwitness.bench.originals import check_original, original_path
from wattwitness.bench.questions import claims_of, question_of
from wattwitness.bench.rides import (
    KeptRide,
    kept_figures,
    put_figures,
    rides_of,
)
from wattwitness.engine.pool import in_order
from wattwitness.model.claim import Claim
from wattwitness.model.errors import BenchInvalid, UnknownName
from wattwitness.model.ride_list import ListedRide, ListedStudy
from wattwitness.model.settings import CompareSettings
from wattwitness.model.study import RideFigures, Study
from wattwitness.study.ride_figures import FIGURES_EDITION
from wattwitness.workflows.bench import NOTHING_ASKED, Progress
from wattwitness.workflows.one_ride import RideTask, figures_of
from wattwitness.workflows.study import judge_rides, ride_tasks


def bench_study(
    bench: Path,
    asked: ListedStudy,
    settings: CompareSettings,
    *,
    progress: Progress = lambda _: None,
    processes: int | None = None,
) -> Study:
    """Judge the unit that ``asked`` names, or the only one, by what is asked of it on the bench; what ``asked`` says
    itself wins.

    Rides whose figures are kept for the same files, settings and version are not compared again; the others are, and
    their figures kept.

    Raises UnknownName where the bench has no such unit, and what ``catalogue`` raises.
    """
    kept = kept_study(bench, asked, settings)
    figures, changed = dict(kept.figures), kept.changed
    for number in changed:
        for original in kept.rides[number].files.values():
            check_original(bench, original)
    answers = in_order(figures_of, [kept.tasks[number] for number in changed], processes=processes)
    for done, (number, answer) in enumerate(zip(changed, answers, strict=True), start=1):
        key = kept.keys[number]
        figures[key] = answer
        with catalogue(bench, write=True) as connection:
            put_figures(connection, key, answer)
        progress(f"compared {done} of {len(changed)} rides that changed")
    return judge_rides([figures[key] for key in kept.keys], kept.listed, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptStudy:
    """What a study stands on: the unit's rides, what is asked of them, the work that each would be, and the figures
    that are kept, by the keys of the rides.
    """

    rides: tuple[KeptRide, ...]
    listed: ListedStudy
    tasks: tuple[RideTask, ...]
    keys: tuple[str, ...]
    figures: Mapping[str, RideFigures]

    @property
    def changed(self) -> list[int]:
        """The places of the rides that are to be compared."""
        return [number for number, key in enumerate(self.keys) if key not in self.figures]


def kept_study(bench: Path, asked: ListedStudy, settings: CompareSettings, *, only_asked: bool = False) -> KeptStudy:
    """What there is for a study of the unit that ``asked`` names, without comparing anything; see ``bench_study``.

    ``only_asked``: what is kept of the question counts for nothing.
    """
    with catalogue(bench) as connection:
        everything = rides_of(connection, bench)
    unit = _unit_asked({ride.unit for ride in everything}, asked.unit, bench)
    rides = tuple(ride for ride in everything if ride.unit == unit)
    asked = asked if only_asked else together(kept_question(bench, rides[0].unit_id), asked)
    listed = replace(asked, unit=unit, rides=tuple(listed_ride(bench, ride) for ride in rides))
    tasks = tuple(ride_tasks(listed, settings))
    keys = tuple(figures_key(ride, task) for ride, task in zip(rides, tasks, strict=True))
    with catalogue(bench) as connection:
        figures = kept_figures(connection, keys)
    return KeptStudy(rides=rides, listed=listed, tasks=tasks, keys=keys, figures=figures)


def kept_question(bench: Path, unit_id: int) -> ListedStudy:
    """What is asked of a unit on the bench. Raises BenchInvalid where it cannot be read."""
    again = "Say anew what is asked of it, or put the bench back from a copy."
    with catalogue(bench) as connection, _readable(bench, "What is asked of a unit", again):
        return question_of(connection, unit_id) or NOTHING_ASKED


def claims_on(bench: Path) -> list[Claim]:
    """The claims that were ever asked of a unit on this bench, each under its source. Raises BenchInvalid."""
    again = "Put the bench back from a copy."
    with catalogue(bench) as connection, _readable(bench, "A claim that was written down", again):
        return claims_of(connection)


@contextmanager
def _readable(bench: Path, what: str, hint: str) -> Iterator[None]:
    try:
        yield
    except ValueError as error:
        raise BenchInvalid(f"{what} cannot be read ({error}).", where=str(bench / FILE_NAME), hint=hint) from error


def ride_settings(bench: Path, unit_id: int) -> CompareSettings:
    """The settings of a comparison by what is asked of its unit, so that a ride and the study say the same."""
    return CompareSettings(reference_uncertainty_pct=kept_question(bench, unit_id).reference_uncertainty_pct)


def together(kept: ListedStudy, asked: ListedStudy) -> ListedStudy:
    """The kept question with what was asked now in its place, wherever something was."""
    said = {item.name: getattr(asked, item.name) for item in fields(asked)}
    given = {name: value for name, value in said.items() if value != getattr(NOTHING_ASKED, name)}
    if asked.zones and asked.own_zones is None:
        given["own_zones"] = None  # zones by a name win over zones of one's own that were kept
    return replace(kept, **given)


def unit_id_on(bench: Path, name: str) -> int:
    """The id of the unit of that name, or of the only one. Raises UnknownName."""
    with catalogue(bench) as connection:
        rides = rides_of(connection, bench)
    unit = _unit_asked({ride.unit for ride in rides}, name, bench)
    return next(ride.unit_id for ride in rides if ride.unit == unit)


def _unit_asked(units: Set[str], asked: str, bench: Path) -> str:
    """The unit meant. Raises UnknownName where it is not on the bench, or none was named and there are several."""
    if asked in units:
        return asked
    if not asked and len(units) == 1:
        return next(iter(units))
    names = ", ".join(f"“{name}”" for name in sorted(units))
    if not units:
        raise UnknownName("There are no rides on the bench yet.", where=str(bench), hint="Add some: bench add.")
    what = f"The bench has no unit “{asked}”." if asked else "The bench has more than one unit."
    raise UnknownName(what, where=str(bench), hint=f"Say which with --unit. Units on it: {names}.")


def figures_key(ride: KeptRide, task: RideTask) -> str:
    """SHA-256 of all that a ride's figures depend on: contents, what is on record of it, settings, version."""
    noted = {key: value for key, value in asdict(ride.noted).items() if key not in ride.files}
    content = {
        "version": __version__,
        "edition": FIGURES_EDITION,
        "files": {name: original.sha256 for name, original in sorted(ride.files.items())},
        "names": {name: original.file_name for name, original in sorted(ride.files.items())},
        "parts": dict(ride.parts),
        "noted": noted,
        "settings": asdict(task.settings),
        "zones": asdict(task.zones),
        "threshold_w": task.threshold_w,
        "unit": task.unit,
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def listed_ride(bench: Path, ride: KeptRide) -> ListedRide:
    """The ride with the paths of its originals, as a comparison takes it."""
    paths = {name: original_path(bench, one.sha256, one.file_name) for name, one in ride.files.items()}

    def argument(name: str) -> str:
        part = ride.parts[name]
        return f"{paths[name]}" if part is None else f"{paths[name]}#{part}"

    return replace(
        ride.noted,
        reference=argument("reference"),
        unit=argument("unit"),
        mapping=paths.get("mapping"),
        reference_mapping=paths.get("reference_mapping"),
        unit_mapping=paths.get("unit_mapping"),
        reference_meter=paths.get("reference_meter"),
        unit_meter=paths.get("unit_meter"),
    )
