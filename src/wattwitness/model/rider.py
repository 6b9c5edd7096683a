"""What a unit's error does to the rider: zones, threshold, ranking and the change that two tests can show."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.estimate import Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneSet:
    """Zones of threshold power as data: ``upper`` are the shares of it at which one ends and the next begins, rising;
    ``names`` has one more. Raises ValueError where they do not fit.
    """

    name: str
    upper: tuple[float, ...]
    names: tuple[str, ...]
    source: str

    def __post_init__(self) -> None:
        """Check order and number."""
        rising = all(low < high for low, high in zip(self.upper, self.upper[1:], strict=False))
        if not self.upper or self.upper[0] <= 0 or not rising or len(self.names) != len(self.upper) + 1:
            raise ValueError("zones need rising boundaries above 0 and one name more than boundaries")


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneShown:
    """A rider who holds the middle of the true zone ``zone`` at ``held_w``: how probable it is, over rides, that
    another is shown for most of the ride, and what share of all seconds shows another.
    """

    zone: str
    held_w: float
    other_shown: float
    seconds_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ZonesRidden:
    """Seconds by true zone (rows) and displayed zone (columns), and what a perfect unit with the same response would
    have shown. ``threshold_w`` is what the boundaries were taken from; seconds without power are in neither.
    """

    zones: ZoneSet
    threshold_w: float
    threshold_from: str
    shown: tuple[tuple[int, ...], ...]
    perfect: tuple[tuple[int, ...], ...]

    @property
    def agreeing(self) -> float | None:
        """Share of the seconds in which the displayed zone is the true one; ``None`` without any."""
        return _diagonal(self.shown)

    @property
    def perfect_agreeing(self) -> float | None:
        """The same for a perfect unit."""
        return _diagonal(self.perfect)


def _diagonal(table: tuple[tuple[int, ...], ...]) -> float | None:
    total = sum(map(sum, table))
    return sum(row[place] for place, row in enumerate(table)) / total if total else None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThresholdTest:
    """Threshold power from the best 20 minutes on each meter; ``None`` where a meter has no such stretch.

    ``zone_ends_w`` are (zone, its upper end by the reference, by the unit).
    """

    share: float
    reference_w: float | None
    unit_w: float | None
    zone_ends_w: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceInField:
    """One rider's place among others, by their true power and as this unit shows it; 1 is the first.

    ``best`` and ``worst`` are the places over the spread of rides.
    """

    rider: str
    true_place: int
    shown_place: int
    best: int
    worst: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectableChange:
    """The smallest change of a rider's threshold over two tests that is no chance: 1.96 * sqrt(2) * standard error of
    measurement, in percent and at ``threshold_w``; for the unit, for the reference, and with the rider's own day to day
    variation on top.
    """

    unit_pct: Estimate
    reference_pct: float
    unit_with_rider_pct: float | None
    reference_with_rider_pct: float
    threshold_w: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RiderEffects:
    """Everything above for one unit."""

    zones: tuple[ZonesRidden, ...]
    held: tuple[ZoneShown, ...]
    tests: tuple[ThresholdTest, ...]
    places: tuple[PlaceInField, ...]
    change: DetectableChange
