"""What of a recording's file names a person, a place or a device: shown before the file itself is handed on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class PrivateKind(StrEnum):
    """What kind of private data it is, in words."""

    POSITION = "positions"
    SERIAL = "serial and device numbers"
    NAME = "names and other text"
    PERSON = "details of a person"
    HEART = "heart rate"
    TIME = "date and time of day"
    UNKNOWN = "fields whose meaning is not public"


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivateItem:
    """One finding: its kind, where in the file it stands, how often, and a few values as found (none for positions)."""

    kind: PrivateKind
    where: str
    count: int
    examples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PrivateFile:
    """All that was found in one file; ``file_name`` is its name on the tester's disk."""

    file_name: str
    items: tuple[PrivateItem, ...]
