"""A meter as its owner describes it: place, claim, what was set and done before the ride, and its budget."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from wattwitness.model.budget import Distribution, Origin


class Place(StrEnum):
    """Where on its way from foot to brake a meter takes the power."""

    PEDAL = "pedal"
    CRANK = "crank"
    SPIDER = "spider"
    HUB = "hub"
    BRAKE = "brake"
    UNKNOWN = "unknown"

    @property
    def uses_crank_length(self) -> bool:
        """Whether its torque is a force times the crank length set."""
        return self in (Place.PEDAL, Place.CRANK)

    @property
    def behind_transmission(self) -> bool | None:
        """Whether chain or belt take their part before it; ``None`` where the place is not known."""
        return None if self is Place.UNKNOWN else self in (Place.HUB, Place.BRAKE)


class Sides(StrEnum):
    """Which legs a meter measures: both, or one that it doubles."""

    BOTH = "both"
    LEFT_DOUBLED = "left_doubled"
    RIGHT_DOUBLED = "right_doubled"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupRecord:
    """What was set and done before a ride; ``None`` or empty is not recorded, which is never taken as done."""

    crank_set_mm: float | None = None
    crank_true_mm: float | None = None
    zero_taken: bool | None = None
    firmware: str = ""
    battery_pct: float | None = None
    temperature_c: float | None = None
    zero_temperature_c: float | None = None
    warm_up_min: float | None = None
    hours_since_fitted: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedUncertainty:
    """A contribution as its owner states it, in the unit that belongs to it: a half-width, or a standard uncertainty.

    A field that is ``None`` keeps its default.
    """

    half_width: float | None = None
    standard_uncertainty: float | None = None
    distribution: Distribution | None = None
    degrees: float | None = None
    origin: Origin | None = None
    source: str = ""
    common: bool | None = None

    @property
    def says_size(self) -> bool:
        """Whether it says how large the contribution is."""
        return self.half_width is not None or self.standard_uncertainty is not None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeterFile:
    """A meter as described in a file. ``stated`` holds contributions to its budget by their names.

    ``put_right_crank``: the power it recorded is to be multiplied by crank length true over set, on record.
    """

    name: str = ""
    source: str = ""
    place: Place = Place.UNKNOWN
    sides: Sides = Sides.UNKNOWN
    setup: SetupRecord = SetupRecord()
    stated: Mapping[str, StatedUncertainty] = field(default_factory=dict)
    put_right_crank: bool = False

    def __post_init__(self) -> None:
        """Freeze the mapping."""
        object.__setattr__(self, "stated", MappingProxyType(dict(self.stated)))
