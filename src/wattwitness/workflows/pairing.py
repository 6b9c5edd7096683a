"""Which recordings of a folder belong to one ride, and which of them is the reference: a proposal, or a question."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from wattwitness.model.corrected_copy import SAYS_NOTHING, is_corrected
from wattwitness.model.errors import FileMissing, RidesUnclear, WattwitnessError
from wattwitness.model.recording import ChannelName, Recording
from wattwitness.model.ride_list import ListedRide
from wattwitness.workflows.matching import match_lone

REFERENCE_WORDS = ("reference", "ref", "pedal", "pedals", "crank", "cranks")
"""Words in a file's or a meter's name that make it the reference where the tester names none."""

UNIT_WORDS = ("unit", "bike", "trainer", "display", "console", "test", "brake", "hub")
"""Words that tell a unit's file from the reference's and not one ride from another."""

MOST_FILES = 5000
LEAST_OVERLAP = 0.5
LEAST_WATTS = 60
"""Fewer samples with power than this tell no recording from another."""

WORDS = re.compile(r"[^\W\d_]+|\d+")


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundRecording:
    """A recording of a folder, without its samples: where, when, and what its file says of the meter.

    ``watts`` is the same for two exports of one recording, whatever their formats (empty: no power to tell it by).
    """

    argument: str
    stem: str
    folder: str
    start_s: float | None
    end_s: float | None
    meter: str
    sha256: str
    watts: str = ""

    def says(self, text: str) -> bool:
        """Whether ``text`` is in the file's or the meter's name, whatever the case."""
        return text.casefold() in f"{self.stem} {self.meter}".casefold()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Recordings of one ride of which it cannot be told which is the reference, or which unit is meant."""

    arguments: tuple[str, ...]
    error: RidesUnclear


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Rides as proposed, those that are a question, and files that could not be used, each with the reason."""

    rides: tuple[ListedRide, ...]
    unused: tuple[tuple[str, str], ...]
    questions: tuple[Question, ...] = ()


def propose_rides(folder: Path, *, reference: str = "", unit: str = "", several: bool = False) -> Proposal:
    """Read a folder's recordings and group them to rides.

    ``reference`` and ``unit`` are parts of file or meter names. ``several``: a ride that three meters or more recorded
    is proposed once for each unit. Raises FileMissing, RidesUnclear.
    """
    if not folder.is_dir():
        raise FileMissing("There is no such folder.", where=str(folder), hint="Check the path.")
    proposal = propose_what_is_there(folder, reference=reference, unit=unit, several=several)
    if not proposal.rides and proposal.questions:
        raise proposal.questions[0].error
    if not proposal.rides:
        raise RidesUnclear(
            "No two recordings of the folder belong to one ride.",
            where=str(folder),
            hint="Recordings belong together when their times overlap or their names are alike; or write a list.",
        )
    return proposal


def propose_what_is_there(
    folder: Path,
    *,
    reference: str = "",
    unit: str = "",
    several: bool = False,
    mappings: Mapping[Path, Path] | None = None,
) -> Proposal:
    """The same where nothing need be found: what is a question is given as one, and raises nothing.

    ``mappings`` holds the column mappings of tables, by the tables' paths.
    """
    found, unused = _look(folder, mappings or {})
    rides: list[ListedRide] = []
    questions: list[Question] = []
    asked = WORDS.findall(f"{reference} {unit}".casefold())
    groups: list[list[FoundRecording]] = []
    lone: dict[str, FoundRecording] = {}
    for whole in group_recordings(found, asked):
        group, again = _without_exports(whole)
        unused += [(one.argument, "another export of a recording that is there already") for one in again]
        if len(group) == 1:
            lone[group[0].argument] = group[0]
        else:
            groups.append(group)
    # A clock that was never set, or a time zone away: the effort itself tells which two belong together.
    for one, other, _ in match_lone([name for name in lone if Path(name) not in (mappings or {})]):
        groups.append([lone.pop(one), lone.pop(other)])
    unused += [(name, "no other recording belongs to the same ride") for name in lone]
    for group in groups:
        try:
            rides += _rides(group, reference, unit, several=several)
        except RidesUnclear as error:
            # One ride that is a question must not keep the others from an answer; it is listed with the question.
            questions.append(Question(arguments=tuple(one.argument for one in group), error=error))
            unused += [(one.argument, f"{error.what} {error.hint}") for one in group]
    return Proposal(rides=_named_apart(rides), unused=tuple(unused), questions=tuple(questions))


def group_recordings(found: Sequence[FoundRecording], meter_words: Sequence[str] = ()) -> list[list[FoundRecording]]:
    """Recordings by ride: dated ones whose times overlap by half of the shorter, others by folder or by name, and at
    last by the numbers in their names.

    Two copies of one file count once. ``meter_words`` are further words that tell meters apart.
    """
    single = list({one.sha256: one for one in reversed(found)}.values())[::-1]
    dated = [one for one in single if one.start_s is not None]
    groups = _by_time(dated) + _by_name([one for one in single if one.start_s is None], meter_words)
    for again in (lambda lone: _by_name(lone, meter_words), _by_numbers):
        lone = [group[0] for group in groups if len(group) == 1]
        groups = [group for group in groups if len(group) > 1] + again(lone)
    return sorted(groups, key=lambda group: (group[0].start_s or 0.0, group[0].argument))


def _without_exports(
    group: Sequence[FoundRecording],
) -> tuple[list[FoundRecording], list[FoundRecording]]:
    """The recordings of a ride without further exports of the same samples, and those exports; FIT stays before CSV.

    Two that are named as reference and as unit stay a pair: the comparison leaves it out and says why.
    """
    if len(group) == 2 and len([one for one in group if _named_reference(one)]) == 1:
        return list(group), []
    kept: dict[str, FoundRecording] = {}
    for one in sorted(group, key=lambda one: ".fit" not in Path(one.argument).name.casefold()):
        kept.setdefault(one.watts or one.argument, one)
    stay = {one.argument for one in kept.values()}
    return [one for one in group if one.argument in stay], [one for one in group if one.argument not in stay]


def _named_reference(one: FoundRecording) -> bool:
    return bool(set(WORDS.findall(f"{one.stem} {one.meter}".casefold())) & set(REFERENCE_WORDS))


def _watts(recording: Recording) -> str:
    """A mark of the power above zero in whole watts, which every format keeps; empty where there is hardly any."""
    power_w = recording.channels.get(ChannelName.POWER)
    shown = np.empty(0) if power_w is None else power_w[np.isfinite(power_w) & (power_w > 0)]
    if shown.size < LEAST_WATTS:
        return ""
    return hashlib.sha256(np.rint(shown).astype(np.int64).tobytes()).hexdigest()


def _look(folder: Path, mappings: Mapping[Path, Path]) -> tuple[list[FoundRecording], list[tuple[str, str]]]:
    from wattwitness.readers.open import read_recordings

    found: list[FoundRecording] = []
    unused: list[tuple[str, str]] = []
    files = sorted(path for path in folder.rglob("*") if path.is_file() and not path.name.startswith("."))
    for path in files[:MOST_FILES]:
        try:
            recordings = read_recordings(path, mapping=mappings.get(path))
        except WattwitnessError as error:
            unused.append((str(path), error.what))
            continue
        for recording in recordings:
            if is_corrected(recording):
                unused.append((str(path), SAYS_NOTHING))
                continue
            part = f"#{recording.source.part}" if len(recordings) > 1 else ""
            found.append(_found(recording, path, folder, part))
    unused += [(str(path), f"more than {MOST_FILES} files") for path in files[MOST_FILES:]]
    return found, unused


def _found(recording: Recording, path: Path, folder: Path, part: str) -> FoundRecording:
    known = recording.dated and recording.time_s.size > 0
    return FoundRecording(
        argument=f"{path}{part}",
        stem=path.name.split(".")[0],
        folder=str(path.parent.relative_to(folder)),
        start_s=float(recording.time_s[0]) if known else None,
        end_s=float(recording.time_s[-1]) if known else None,
        meter=f"{recording.meter.maker} {recording.meter.product}".strip(),
        sha256=f"{recording.source.sha256}{part}",
        watts=_watts(recording),
    )


def _by_time(dated: Sequence[FoundRecording]) -> list[list[FoundRecording]]:
    groups: list[list[FoundRecording]] = []
    for one in sorted(dated, key=lambda one: (one.start_s or 0.0, one.argument)):
        if groups and _overlap(groups[-1][0], one) >= LEAST_OVERLAP:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups


def _overlap(one: FoundRecording, other: FoundRecording) -> float:
    """Common time over the shorter of the two."""
    if one.start_s is None or one.end_s is None or other.start_s is None or other.end_s is None:
        return 0.0
    shorter = min(one.end_s - one.start_s, other.end_s - other.start_s)
    common = min(one.end_s, other.end_s) - max(one.start_s, other.start_s)
    return common / shorter if shorter > 0 else 0.0


def _by_name(found: Sequence[FoundRecording], meter_words: Sequence[str] = ()) -> list[list[FoundRecording]]:
    """By the folder and by what is left of the names when the words that tell meters apart are taken out.

    A folder below with just two recordings is a ride of its own, whatever they are called.
    """
    groups: dict[tuple[str, ...], list[FoundRecording]] = {}
    folders: dict[str, list[FoundRecording]] = {}
    for one in found:
        folders.setdefault(one.folder, []).append(one)
    for folder, members in folders.items():
        for one in members:
            key = (folder,) if len(members) == 2 and folder != "." else (folder, *_ride_words(one.stem, meter_words))
            groups.setdefault(key, []).append(one)
    return list(groups.values())


def _by_numbers(found: Sequence[FoundRecording]) -> list[list[FoundRecording]]:
    """By the folder and the numbers in the names; a name without any stands alone."""
    groups: dict[tuple[str, ...], list[FoundRecording]] = {}
    for one in found:
        numbers = [number.lstrip("0") or "0" for number in re.findall(r"\d+", one.stem)]
        groups.setdefault((one.folder, *numbers) if numbers else (one.argument,), []).append(one)
    return list(groups.values())


def _ride_words(stem: str, meter_words: Sequence[str]) -> list[str]:
    """The words and numbers of a name that tell one ride from another; numbers without leading zeros."""
    told = {*REFERENCE_WORDS, *UNIT_WORDS, *meter_words}
    words = [word.lstrip("0") or "0" for word in WORDS.findall(stem.casefold())]
    return [word for word in words if word not in told]


def _rides(group: Sequence[FoundRecording], reference: str, unit: str, *, several: bool) -> list[ListedRide]:
    """The ride of a group; one for each of its units where ``several`` may be."""
    if unit or not several or len(group) < 3:
        return [_ride(group, reference, unit)]
    chosen = _one(group, (reference,) if reference else REFERENCE_WORDS, "reference", words=not reference)
    others = [one for one in group if one is not chosen]
    return [ListedRide(name=_common_name(chosen, one), reference=chosen.argument, unit=one.argument) for one in others]


def _ride(group: Sequence[FoundRecording], reference: str, unit: str) -> ListedRide:
    chosen = _one(group, (reference,) if reference else REFERENCE_WORDS, "reference", words=not reference)
    others = [one for one in group if one is not chosen]
    measured = _one(others, (unit,), "unit", words=False) if unit else others[0]
    if not unit and len(others) > 1:
        raise RidesUnclear(
            f"One ride has {len(others)} units: {_names(others)}.",
            where=Path(others[0].argument).name,
            hint="Say which is meant with --unit and a part of its file's or its meter's name.",
        )
    return ListedRide(name=_common_name(chosen, measured), reference=chosen.argument, unit=measured.argument)


def _one(group: Sequence[FoundRecording], texts: Sequence[str], what: str, *, words: bool) -> FoundRecording:
    """The one recording of a ride whose names hold one of ``texts`` (as whole ``words`` where none was asked for)."""

    def fits(one: FoundRecording) -> bool:
        if not words:
            return any(one.says(text) for text in texts)
        return _named_reference(one)

    matching = [one for one in group if fits(one)]
    if len(matching) == 1:
        return matching[0]
    says = "none is" if not matching else f"{len(matching)} could be"
    raise RidesUnclear(
        f"Of the recordings {_names(group)}, {says} the {what}.",
        where=Path(group[0].argument).name,
        hint=f"Say which is with --{what} and a part of its file's or its meter's name, or write a list of the rides.",
    )


def _names(group: Sequence[FoundRecording]) -> str:
    return ", ".join(f"“{Path(one.argument).name}”" for one in group)


def _common_name(one: FoundRecording, other: FoundRecording) -> str:
    """What the two names share at their start, else the reference's own."""
    shared = ""
    for mine, theirs in zip(one.stem, other.stem, strict=False):
        if mine != theirs:
            break
        shared += mine
    shared = shared.rstrip(" -_.")
    name = shared if len(shared) >= 2 else one.stem
    return name if one.folder in (".", "") else f"{one.folder}/{name}"


def _named_apart(rides: Sequence[ListedRide]) -> tuple[ListedRide, ...]:
    """Rides whose names are the same get numbers."""
    seen: dict[str, int] = {}
    total = {ride.name: sum(other.name == ride.name for other in rides) for ride in rides}
    named = []
    for ride in rides:
        seen[ride.name] = seen.get(ride.name, 0) + 1
        named.append(replace(ride, name=f"{ride.name} {seen[ride.name]}") if total[ride.name] > 1 else ride)
    return tuple(named)
