"""The rides of a study as a tester names them: which recordings, which is the reference, and what is on record."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from wattwitness.model.claim import Claim, DecisionRule
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.rider import ZoneSet


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedRide:
    """One ride: recordings as ``FILE`` or ``FILE#2``, and what is known of it beside them.

    ``excluded`` is the tester's reason to leave it out (empty: it counts), ``offset_s`` a clock given by hand,
    ``stretches_out`` the stretches of it that are not compared. ``mapping`` says what the columns of both recordings
    are, where they are tables; one of its own for the reference or the unit wins for that. ``wrote`` names the meters
    that wrote the reference and the unit, where it is known.
    """

    name: str
    reference: str
    unit: str
    group: str = ""
    rider: str = ""
    firmware: str = ""
    day: str = ""
    temperature_c: float | None = None
    offset_s: float | None = None
    mapping: Path | None = None
    reference_mapping: Path | None = None
    unit_mapping: Path | None = None
    reference_meter: Path | None = None
    unit_meter: Path | None = None
    excluded: str = ""
    stretches_out: tuple[LeftOutStretch, ...] = ()
    wrote: tuple[str, str] = ("", "")

    @property
    def sides(self) -> tuple[tuple[str, Path | None], tuple[str, Path | None]]:
        """Reference and unit, each with what its columns are."""
        return (
            (self.reference, self.reference_mapping or self.mapping),
            (self.unit, self.unit_mapping or self.mapping),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldRider:
    """One rider of a field, by the true mean power over the event."""

    name: str
    mean_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedStudy:
    """A study as it is asked for; ``None`` where the tester left it to the program.

    ``before`` and ``after`` name groups of rides or firmware. ``zones`` names a set that is known, ``own_zones`` is the
    tester's own and wins.
    """

    rides: tuple[ListedRide, ...]
    unit: str = ""
    claim: Claim | None = None
    rule: DecisionRule | None = None
    risk: float | None = None
    at_w: float | None = None
    at_rpm: float | None = None
    threshold_w: float | None = None
    reference_uncertainty_pct: float | None = None
    before: str = ""
    after: str = ""
    margin_pct: float | None = None
    zones: str = ""
    own_zones: ZoneSet | None = None
    field_riders: tuple[FieldRider, ...] = field(default_factory=tuple)
