"""A study as it may be handed on: riders by number, files by number, whatever the tester called them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from wattwitness.model.estimate import Estimate
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.study import Study

LEAST_LETTERS = 3
"""A shorter name stands in too many words that name nobody; it is replaced only where a rider is meant."""

NOBODY = frozenset({"rider", "tester", "athlete", "ride", "unit", "bike", "meter", "reference", "team", "from"})
"""Words that may be part of what a rider is called and still name nobody."""

TESTERS_WORDS = frozenset("name unit group left_out_why why said source judged_on before after firmware claim".split())
"""Fields that hold what a tester wrote, where a name is looked for word by word."""

KEYS = ("left_out", "slug", "source_sha256")
"""Fields whose texts are keys of the program."""

_ENDING = r"\.(?:fit|tcx|gpx|csv|tsv|txt|toml|json|xml)(?:\.gz)?(?:#\d+)?"
A_FILE = re.compile(rf"(\()[^()]*{_ENDING}(\))|(?:[^\s“”()]+){_ENDING}\b", re.IGNORECASE)
"""A file's name in a sentence: all there is between brackets, or one word."""

Unused = tuple[tuple[str, str], ...]
Rename = Callable[[str], str]


def without_names(study: Study, unused: Sequence[tuple[str, str]] = ()) -> tuple[Study, Unused]:
    """The study and the files that belong to no ride, without names of riders and of files.

    A name is the same number wherever it stands, also inside the name of a ride. Names that the tester gave to units,
    rides, groups and sources stay otherwise: they are the tester's to give.
    """
    given = [ride.rider for ride in study.rides]
    if study.rider is not None:
        given += [place.rider for place in study.rider.places]
    numbers = {name: f"rider {place}" for place, name in enumerate(dict.fromkeys(filter(None, given)), start=1)}
    files = {Path(file).name: f"file {place}" for place, (file, _) in enumerate(unused, start=1)}
    by_word, by_file = _replacing(_words_of(numbers)), _replacing(files)

    def without_files(text: str) -> str:
        return A_FILE.sub(lambda found: f"{found.group(1) or ''}a file{found.group(2) or ''}", by_file(text))

    def careful(text: str) -> str:
        return by_word(without_files(text))

    # Sentences of the program hold what the tester called rides and groups, whole; other words of theirs are ours.
    called = {text for ride in study.rides for text in (ride.name, ride.group, ride.firmware)} | {study.unit}
    if study.claim is not None:
        called.add(study.claim.source)
    by_name = _replacing({text: careful(text) for text in called if text and careful(text) != text})

    def whole(text: str) -> str:
        return without_files(by_name(text))

    plain: Study = _texts(study, careful, whole)
    rides = tuple(
        replace(ride, rider=numbers.get(before.rider, ""))
        for ride, before in zip(plain.rides, study.rides, strict=True)
    )
    effects = study.rider
    if effects is not None:
        places = tuple(replace(place, rider=numbers.get(place.rider, "")) for place in effects.places)
        effects = replace(effects, places=places)
    moderators = tuple(replace(one, name=_moderator(one.name, numbers, whole)) for one in study.consistency.moderators)
    consistency = replace(plain.consistency, moderators=moderators)
    plain = replace(plain, rides=rides, rider=effects, consistency=consistency)
    return plain, tuple((f"file {place}", careful(why)) for place, (_, why) in enumerate(unused, start=1))


def without_riders(stretches: Sequence[LeftOutStretch], riders: Sequence[str]) -> tuple[LeftOutStretch, ...]:
    """Stretches whose reasons name no rider that is known."""
    names = {name: "the rider" for name in riders if name}
    by_word = _replacing({**dict.fromkeys(names, "the rider"), **_words_of(names)})
    return tuple(replace(stretch, reason=by_word(stretch.reason)) for stretch in stretches)


def _moderator(name: str, numbers: dict[str, str], whole: Rename) -> str:
    """``rider Anna against Ben`` by numbers; of other things that the rides differ in, what the tester called them."""
    for one, first in numbers.items():
        for other, second in numbers.items():
            if name == f"rider {one} against {other}":
                return f"{first} against {second}"
    return whole(name)


def _words_of(numbers: dict[str, str]) -> dict[str, str]:
    """Each name, and each word of it that is long enough to name somebody, with its number."""
    words: dict[str, str] = {}
    for name, number in numbers.items():
        for word in (name, *re.findall(r"[^\W\d_]+", name)):
            if len(word) >= LEAST_LETTERS and word.casefold() not in NOBODY:
                words.setdefault(word, number)
    return words


def _replacing(words: dict[str, str]) -> Rename:
    """What puts the second of each pair in the place of the first, whatever its case, the longest first."""
    known = {word.casefold(): other for word, other in words.items()}
    if not known:
        return lambda text: text
    parts = sorted(known, key=len, reverse=True)
    # Letters beside it make it part of another word; digits and dashes do not.
    pattern = re.compile(rf"(?<![^\W\d_])(?:{'|'.join(map(re.escape, parts))})(?![^\W\d_])", re.IGNORECASE)
    return lambda text: pattern.sub(lambda found: known.get(found.group().casefold(), "a name"), text)


def _texts(value: Any, careful: Rename, whole: Rename) -> Any:
    """``value`` with every text in it renamed; enumerations, estimates and numbers as they are."""
    if isinstance(value, str):
        return value if isinstance(value, StrEnum) else whole(value)
    if isinstance(value, tuple):
        return tuple(_texts(item, careful, whole) for item in value)
    if not is_dataclass(value) or isinstance(value, type | Estimate):
        return value
    made = {}
    for item in fields(value):
        part = getattr(value, item.name)
        if isinstance(part, str) and item.name in KEYS:
            continue
        by_word = item.name in TESTERS_WORDS and not is_dataclass(part)
        made[item.name] = _texts(part, careful, careful if by_word else whole)
    return replace(value, **made)
