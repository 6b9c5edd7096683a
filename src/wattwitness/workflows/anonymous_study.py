"""A study as it may be handed on: riders by number, files by number, whatever the tester called them."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import fields, is_dataclass, replace
from enum import StrEnum
from pathlib import Path
from typing import Any

from wattwitness.model.estimate import Estimate
from wattwitness.model.study import Study

LEAST_LETTERS = 3
"""A shorter name stands in too many words that name nobody; it is replaced only where a rider is meant."""

AS_THEY_ARE = ("left_out", "slug", "source_sha256")
"""Fields that hold keys of the program, not words of the tester."""

Unused = tuple[tuple[str, str], ...]


def without_names(study: Study, unused: Sequence[tuple[str, str]] = ()) -> tuple[Study, Unused]:
    """The study and the files that belong to no ride, without names of riders and of files.

    A name is the same number wherever it stands, also inside the name of a ride. Names that the tester gave to units,
    rides, groups and sources stay otherwise: they are the tester's to give.
    """
    given = [ride.rider for ride in study.rides]
    if study.rider is not None:
        given += [place.rider for place in study.rider.places]
    numbers = {name: f"rider {place}" for place, name in enumerate(dict.fromkeys(filter(None, given)), start=1)}
    files = [Path(file).name for file, _ in unused]
    rename = _renaming(numbers, files)
    named = tuple(
        replace(study.rides[place], rider=numbers.get(ride.rider, "")) for place, ride in enumerate(study.rides)
    )
    effects = study.rider
    if effects is not None:
        places = tuple(replace(place, rider=numbers.get(place.rider, "")) for place in effects.places)
        effects = replace(effects, places=places)
    consistency = replace(
        study.consistency,
        moderators=tuple(replace(one, name=_moderator(one.name, numbers)) for one in study.consistency.moderators),
    )
    plain: Study = _texts(replace(study, rides=named, rider=effects, consistency=consistency), rename)
    return plain, tuple((f"file {place}", rename(why)) for place, (_, why) in enumerate(unused, start=1))


def _moderator(name: str, numbers: dict[str, str]) -> str:
    """``rider Anna against Ben`` by numbers, also for names too short to be replaced in other texts."""
    for one, first in numbers.items():
        for other, second in numbers.items():
            if name == f"rider {one} against {other}":
                return f"{first} against {second}"
    return name


def _renaming(numbers: dict[str, str], files: Sequence[str]) -> Callable[[str], str]:
    """What puts numbers in the place of names in a text, the longest names first."""
    words = {name.casefold(): number for name, number in numbers.items() if len(name) >= LEAST_LETTERS}
    words |= {name.casefold(): "a file" for name in files if name}
    if not words:
        return lambda text: text
    parts = sorted(words, key=len, reverse=True)
    # Letters beside it make it part of another word; digits and dashes do not.
    pattern = re.compile(rf"(?<![^\W\d_])(?:{'|'.join(map(re.escape, parts))})(?![^\W\d_])", re.IGNORECASE)
    return lambda text: pattern.sub(lambda found: words.get(found.group().casefold(), "a name"), text)


def _texts(value: Any, rename: Callable[[str], str]) -> Any:
    """``value`` with every text in it renamed; enumerations and numbers as they are."""
    made = value
    if isinstance(value, str):
        made = value if isinstance(value, StrEnum) else rename(value)
    elif isinstance(value, tuple):
        made = tuple(_texts(item, rename) for item in value)
    elif is_dataclass(value) and not isinstance(value, type | Estimate):
        names = [item.name for item in fields(value) if item.name not in AS_THEY_ARE]
        made = replace(value, **{name: _texts(getattr(value, name), rename) for name in names})
    return made
