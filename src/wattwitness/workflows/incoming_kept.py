"""What the tester made of a proposal, checked and kept on the bench; what is kept leaves the batch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from wattwitness.bench.catalogue import catalogue
from wattwitness.bench.lone_recordings import LoneRecording
from wattwitness.bench.originals import keep
from wattwitness.bench.rides import KeptRide, rides_of
from wattwitness.model.errors import SettingInvalid
from wattwitness.model.ride_list import ListedStudy
from wattwitness.readers.words import plain_text
from wattwitness.workflows.bench import add_rides
from wattwitness.workflows.bench_changes import MOST_LETTERS, RideFacts, checked_facts
from wattwitness.workflows.incoming import (
    RIDES,
    Arrival,
    Batch,
    batch_of,
    home_of,
    path_of_arrival,
    take_out,
    throw_away,
)
from wattwitness.workflows.incoming_read import facts_known, mapping_path, read_facts
from wattwitness.workflows.incoming_rides import (
    Progress,
    Proposed,
    RideChoice,
    listed_ride_of,
    proposed_before,
    remember,
    sides_of,
)
from wattwitness.workflows.lone_recordings import keep_lone_recordings, lone_recordings_on


def known_rides(bench: Path, batch: Batch, rides: Sequence[RideChoice]) -> list[str]:
    """For each ride the name of the unit that has it on the bench already; empty for a new one."""
    with catalogue(bench) as connection:
        kept = {_made_of(ride): ride.unit for ride in rides_of(connection, bench)}
    shas = {side.key: _mark(side.read.source.sha256, _part(side.key)) for side in sides_of(bench, batch)}
    return [kept.get((shas.get(ride.reference, ""), shas.get(ride.unit, "")), "") for ride in rides]


def _made_of(ride: KeptRide) -> tuple[str, str]:
    return (
        _mark(ride.files["reference"].sha256, ride.parts["reference"]),
        _mark(ride.files["unit"].sha256, ride.parts["unit"]),
    )


def _mark(sha256: str, part: int | None) -> str:
    return sha256 if part is None else f"{sha256}#{part}"


def _part(key: str) -> int | None:
    _, bar, part = key.partition("#")
    return int(part) if bar else None


def keep_rides(
    bench: Path, batch_id: str, rides: Sequence[RideChoice], *, progress: Progress = lambda _: None
) -> list[int]:
    """Keep those rides that are ticked; then the files they are made of leave the batch. Gives the units' ids.

    A ride is kept whole or not at all; the same again completes what was cut short. Raises SettingInvalid,
    UnknownName, and what ``add_rides`` raises.
    """
    batch = batch_of(bench, batch_id)
    checked = check_rides(bench, batch, rides)
    before = proposed_before(bench, batch)
    of = before.of if before else tuple(one.id for one in batch.here)
    unused = before.unused if before else ()
    remember(bench, batch_id, Proposed(of=of, rides=tuple(rides), unused=unused, begun=True))
    total, done = len(checked), 0

    def one_more(_: str) -> None:
        nonlocal done
        done += 1
        progress(f"kept {done} of {total} rides")

    for unit in dict.fromkeys(choice.unit_name for choice in checked):
        listed = tuple(listed_ride_of(bench, batch, choice) for choice in checked if choice.unit_name == unit)
        add_rides(bench, ListedStudy(rides=listed), unit, progress=one_more)
    units = {choice.unit_name for choice in checked}
    _leave(bench, batch, {key.partition("#")[0] for one in checked for key in (one.reference, one.unit)})
    with catalogue(bench) as connection:
        return sorted({ride.unit_id for ride in rides_of(connection, bench) if ride.unit in units})


def check_rides(bench: Path, batch: Batch, rides: Sequence[RideChoice]) -> list[RideChoice]:
    """The ticked rides as they can be kept. Raises SettingInvalid."""
    ticked = [ride for ride in rides if ride.keep]
    if not ticked:
        raise SettingInvalid("No ride is ticked.", where="rides", hint="Tick those that are to be kept.")
    sides = {side.key: side for side in sides_of(bench, batch)}
    checked, seen = [], set()
    for ride in ticked:
        if ride.reference not in sides or ride.unit not in sides:
            raise SettingInvalid(
                f"A recording of “{ride.name[:80]}” is not chosen, or is no longer here.",
                where=ride.name[:80],
                hint="Choose the reference and the unit, or load the page again.",
            )
        if ride.reference == ride.unit or (ride.reference, ride.unit) in seen:
            twice = "is compared with itself" if ride.reference == ride.unit else "stands there twice"
            raise SettingInvalid(
                f"“{ride.name[:80]}” {twice}.", where=ride.name[:80], hint="Choose another recording, or untick it."
            )
        seen.add((ride.reference, ride.unit))
        facts = checked_facts(
            RideFacts(
                name=ride.name,
                day=ride.day,
                rider=ride.rider,
                firmware=ride.firmware,
                group=ride.group,
                temperature_c=ride.temperature_c,
            )
        )
        unit_name = " ".join(ride.unit_name.split())
        if not unit_name:
            raise SettingInvalid(
                f"The unit of “{facts.name}” has no name.", where=facts.name, hint="Say what the unit is called."
            )
        unit_name = checked_facts(RideFacts(name=unit_name)).name
        checked.append(
            replace(
                ride,
                name=facts.name,
                day=facts.day,
                rider=facts.rider,
                firmware=facts.firmware,
                group=facts.group,
                unit_name=unit_name,
            )
        )
    return checked


def _leave(bench: Path, batch: Batch, used: set[str]) -> None:
    """What is kept leaves the batch; a batch without anything that can still be used goes with it."""
    rest = [one for one in batch.here if one.id not in used and _is_usable(bench, batch, one)]
    if not rest and not batch.awaited:
        throw_away(bench, batch.id)
        return
    for file in used:
        take_out(bench, batch.id, file)
    (home_of(bench, batch.id) / RIDES).unlink(missing_ok=True)


def _is_usable(bench: Path, batch: Batch, arrival: Arrival) -> bool:
    facts = facts_known(bench, batch.id, arrival)
    return facts is None or bool(facts.recordings) or facts.columns_in_doubt


def keep_alone(bench: Path, batch_id: str, file: str) -> list[int]:
    """Keep a file whose recordings have no partner, and return their numbers on the bench; it leaves the batch.

    Raises SettingInvalid and as ``keep``.
    """
    batch = batch_of(bench, batch_id)
    arrival = next((one for one in batch.here if one.id == file), None)
    if arrival is None:
        raise SettingInvalid("This file is no longer here.", where=file[:40], hint="Load the page again.")
    facts = read_facts(bench, batch_id, arrival)
    if not facts.recordings:
        raise SettingInvalid("This file holds no recording.", where=arrival.name, hint="Take it out.")
    original = keep(bench, path_of_arrival(bench, batch_id, arrival))
    mapping = keep(bench, mapping_path(bench, facts.mapping)) if facts.mapping else None
    called = plain_text(arrival.name, MOST_LETTERS)
    parts = [None] if len(facts.recordings) == 1 else list(range(1, len(facts.recordings) + 1))
    lone = [
        LoneRecording(
            name=called if part is None else f"{called}, recording {part}",
            original=original,
            part=part,
            mapping=mapping,
        )
        for part in parts
    ]
    keep_lone_recordings(bench, lone)
    _leave(bench, batch, {file})
    kept = [one for one in lone_recordings_on(bench) if one.original.sha256 == original.sha256]
    return [one.id for one in kept]
