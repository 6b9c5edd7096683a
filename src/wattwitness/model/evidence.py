"""What an evidence bundle holds, apart from the files themselves."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.private_data import PrivateKind

REFERENCE = "reference"


def unit_role(place: int) -> str:
    """What files of the unit at ``place`` (from 1) are called: ``unit-1``."""
    return f"unit-{place}"


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginalFile:
    """The file a recording came from; ``member`` is its name in the bundle, empty where it was left out."""

    sha256: str
    size_bytes: int
    format_name: str
    part: int
    member: str = ""
    private: tuple[PrivateKind, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BundledRecording:
    """One recording: its role, the name shown, its copy, its meter's description (empty: none), its original."""

    role: str
    label: str
    copy: str
    meter: str
    original: OriginalFile


@dataclass(frozen=True, slots=True, kw_only=True)
class BundledUnit:
    """One unit: whether a defect is stated, where, and how many episodes were found by finding."""

    role: str
    label: str
    defect: bool
    statement: str
    episodes: tuple[tuple[str, int], ...]
    drawn: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """The list that goes into manifest and README. ``command`` is what computes the numbers again, word by word."""

    version: str
    versions: tuple[tuple[str, str], ...]
    settings: tuple[tuple[str, object], ...]
    recordings: tuple[BundledRecording, ...]
    units: tuple[BundledUnit, ...]
    command: tuple[str, ...]
    around_s: float

    @property
    def with_originals(self) -> bool:
        """Whether any original is inside."""
        return any(recording.original.member for recording in self.recordings)
