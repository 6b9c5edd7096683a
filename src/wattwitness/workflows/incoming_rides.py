"""Which files of a batch belong to one ride: proposed, and corrected by the tester.

What was proposed and what the tester made of it lie beside the files, so that a crash in between is no loss.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from wattwitness.bench.json_form import from_text, to_text
from wattwitness.model.clock import ClockStatus
from wattwitness.model.errors import SettingInvalid
from wattwitness.model.inspection import RecordingInspection
from wattwitness.model.ride_list import ListedRide
from wattwitness.readers.open import split_part
from wattwitness.workflows.incoming import (
    RIDES,
    Batch,
    batch_of,
    home_of,
    not_writable,
    path_of_arrival,
)
from wattwitness.workflows.incoming_read import FileFacts, facts_known, mapping_path, read_facts
from wattwitness.workflows.matching import Match, match_ride, match_rides
from wattwitness.workflows.pairing import REFERENCE_WORDS, WORDS, Proposal, propose_what_is_there
from wattwitness.workflows.saved_words import put_text

Progress = Callable[[str], None]
KEY = re.compile(r"([0-9a-f]{10})(?:#(\d{1,6}))?")
LOOK = "Choose another recording, or tick it if you know better."
UNSURE = "Which of the two is the reference cannot be told: look, swap them if need be, and then tick the ride."


@dataclass(frozen=True, slots=True, kw_only=True)
class RideChoice:
    """One ride as it is proposed or as the tester has it: recordings by their keys, and what is known beside them.

    ``doubt`` is a sentence on what is to be looked at (empty: nothing), ``says`` what the clock fit says of the two.
    """

    reference: str
    unit: str
    name: str
    unit_name: str = ""
    keep: bool = True
    group: str = ""
    rider: str = ""
    firmware: str = ""
    day: str = ""
    temperature_c: float | None = None
    doubt: str = ""
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotUsed:
    """A file or recording that is in no proposed ride: its key (empty: it has none), its name, and why."""

    key: str
    shown: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """The rides of a batch. ``of`` names the files they were proposed from, ``begun`` says that keeping was begun."""

    of: tuple[str, ...]
    rides: tuple[RideChoice, ...]
    unused: tuple[NotUsed, ...]
    begun: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """A recording that can be chosen: its key (``FILE`` or ``FILE#2``), its name, and what was read of it."""

    key: str
    shown: str
    read: RecordingInspection


def sides_of(bench: Path, batch: Batch) -> list[Side]:
    """Every recording of a batch that was read."""
    sides = []
    for arrival in batch.here:
        facts = facts_known(bench, batch.id, arrival)
        recordings = facts.recordings if facts else ()
        for number, one in enumerate(recordings, start=1):
            several = len(recordings) > 1
            shown = f"{arrival.shown}, recording {number}" if several else arrival.shown
            sides.append(Side(key=f"{arrival.id}#{number}" if several else arrival.id, shown=shown, read=one))
    return sides


def proposed_before(bench: Path, batch: Batch) -> Proposed | None:
    """What was proposed of just these files; ``None`` where it is to be proposed anew."""
    try:
        text = (home_of(bench, batch.id) / RIDES).read_text(encoding="utf-8")
        proposed = from_text(Proposed, text, whole=True)
    except (OSError, ValueError):
        return None
    return proposed if set(proposed.of) == {one.id for one in batch.here} else None


def propose(bench: Path, batch_id: str, *, progress: Progress = lambda _: None) -> Proposed:
    """Read what is not read yet, propose rides, and remember them. Raises UnknownName, OutputNotWritable."""
    batch = batch_of(bench, batch_id)
    facts: dict[str, FileFacts] = {}
    for done, arrival in enumerate(batch.here, start=1):
        facts[arrival.id] = read_facts(bench, batch_id, arrival)
        progress(f"read {done} of {len(batch.here)} files")
    progress("looking which recordings belong together")
    files = home_of(bench, batch_id) / "files"
    mappings = {
        path_of_arrival(bench, batch_id, one): mapping_path(bench, facts[one.id].mapping)
        for one in batch.here
        if facts[one.id].mapping
    }
    found = propose_what_is_there(files, mappings=mappings)
    proposed = _as_choices(bench, batch, found)
    proposed = replace(proposed, rides=_matched(bench, batch, proposed.rides, progress))
    remember(bench, batch_id, proposed)
    return proposed


def _matched(bench: Path, batch: Batch, rides: Sequence[RideChoice], progress: Progress) -> tuple[RideChoice, ...]:
    """The rides with what the clock fit says of each; one whose efforts do not match is not ticked."""
    matches = match_rides([listed_ride_of(bench, batch, ride) for ride in rides], progress=progress)
    return tuple(_with_match(ride, match) for ride, match in zip(rides, matches, strict=True))


def _with_match(ride: RideChoice, match: Match) -> RideChoice:
    if match.doubtful:
        return replace(ride, keep=False, doubt=f"{match.says} {LOOK}")
    if match.status is ClockStatus.AMBIGUOUS:
        return replace(ride, doubt=f"{ride.doubt} {match.says}".strip())
    return replace(ride, says=match.says)


def match_sides(bench: Path, batch_id: str, reference: str, unit: str) -> Match:
    """What the clock fit says of two recordings that the tester chose. Raises SettingInvalid, UnknownName."""
    batch = batch_of(bench, batch_id)
    keys = {side.key for side in sides_of(bench, batch)}
    if reference == unit or not {reference, unit} <= keys:
        raise SettingInvalid(
            "The two recordings are not chosen.", where="reference, unit", hint="Choose two different ones."
        )
    return match_ride(listed_ride_of(bench, batch, RideChoice(reference=reference, unit=unit, name="")))


def remember(bench: Path, batch_id: str, proposed: Proposed) -> None:
    """Keep rides as they stand beside their files. Raises UnknownName, OutputNotWritable."""
    try:
        put_text(home_of(bench, batch_id) / RIDES, to_text(proposed))
    except OSError as error:
        raise not_writable(bench, error) from error


def _as_choices(bench: Path, batch: Batch, found: Proposal) -> Proposed:
    files = home_of(bench, batch.id) / "files"
    by_place = {one.place: one for one in batch.here}
    sides = {side.key: side for side in sides_of(bench, batch)}

    def key_of(argument: str) -> str:
        path, part = split_part(argument)
        arrival = by_place[path.relative_to(files).as_posix()]
        return arrival.id if part is None else f"{arrival.id}#{part}"

    rides = [_choice(ride.name, key_of(ride.reference), key_of(ride.unit), sides) for ride in found.rides]
    for question in found.questions:
        rides += _of_question([key_of(argument) for argument in question.arguments], sides, question.error.what)
    if not rides and len(sides) == 2:
        rides += _of_question(list(sides), sides, "Nothing in them says that they are of one ride.")
    used = {key for ride in rides for key in (ride.reference, ride.unit)}
    unused = [(key_of(argument), why) for argument, why in found.unused]
    return Proposed(
        of=tuple(one.id for one in batch.here),
        rides=tuple(rides),
        unused=tuple(
            NotUsed(key=key if key in sides else "", shown=_shown(key, sides, batch), why=why)
            for key, why in unused
            if key not in used
        ),
    )


def _shown(key: str, sides: Mapping[str, Side], batch: Batch) -> str:
    if key in sides:
        return sides[key].shown
    return next((one.shown for one in batch.here if one.id == key.partition("#")[0]), key)


def _of_question(keys: Sequence[str], sides: Mapping[str, Side], what: str) -> list[RideChoice]:
    """A ride for each unit against the one that is named as a reference; none is ticked where that is a guess."""
    there = [key for key in keys if key in sides]
    named = [key for key in there if set(WORDS.findall(_words(sides[key]).casefold())) & set(REFERENCE_WORDS)]
    sure = len(named) == 1
    reference = named[0] if named else there[0]
    return [
        replace(
            _choice(sides[key].shown.rpartition(".")[0] or sides[key].shown, reference, key, sides),
            keep=sure,
            doubt="" if sure else f"{what} {UNSURE}",
        )
        for key in there
        if key != reference
    ]


def _words(side: Side) -> str:
    return f"{side.shown} {_wrote(side)}"


def _wrote(side: Side) -> str:
    """The meter as its file names it."""
    return " ".join(f"{side.read.meter.maker} {side.read.meter.product}".split())


def _choice(name: str, reference: str, unit: str, sides: Mapping[str, Side]) -> RideChoice:
    """A ride with what its files themselves say of the unit and the day."""
    of_unit, of_reference = sides[unit].read, sides[reference].read
    day = (of_reference.first_sample_utc or of_unit.first_sample_utc)[:10]
    is_meter = day and name in {Path(one.source.file_name).stem for one in (of_unit, of_reference)}
    return RideChoice(
        reference=reference,
        unit=unit,
        name=day if is_meter else name,  # a meter's name tells no ride from another
        unit_name=" ".join(of_unit.meter.product.split()) or Path(of_unit.source.file_name).stem,
        firmware=of_unit.meter.firmware,
        day=day,
    )


def _mapping(bench: Path, batch: Batch, key: str) -> Path | None:
    """The confirmed columns of a recording that is a table; ``None`` where none were needed."""
    arrival = next(one for one in batch.here if one.id == key.partition("#")[0])
    facts = facts_known(bench, batch.id, arrival)
    return mapping_path(bench, facts.mapping) if facts is not None and facts.mapping else None


def listed_ride_of(bench: Path, batch: Batch, choice: RideChoice) -> ListedRide:
    """The ride with the paths of its files where they lie, and what is known of it. Raises UnknownName."""
    by_id = {one.id: one for one in batch.here}

    meters = {side.key: _wrote(side) for side in sides_of(bench, batch)}

    def argument(key: str) -> str:
        file, bar, part = key.partition("#")
        return f"{path_of_arrival(bench, batch.id, by_id[file])}{bar}{part}"

    return ListedRide(
        name=choice.name,
        reference=argument(choice.reference),
        unit=argument(choice.unit),
        group=choice.group,
        rider=choice.rider,
        firmware=choice.firmware,
        day=choice.day,
        temperature_c=choice.temperature_c,
        reference_mapping=_mapping(bench, batch, choice.reference),
        unit_mapping=_mapping(bench, batch, choice.unit),
        wrote=(meters[choice.reference], meters[choice.unit]),
    )
