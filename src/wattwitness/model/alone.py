"""What one recording says of itself: where its number leaves its own behaviour, and what that cannot show."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wattwitness.model.arrays import FloatArray, frozen_floats
from wattwitness.model.comparison import RecordingSummary
from wattwitness.model.episodes import Episode
from wattwitness.model.recording import ChannelName
from wattwitness.model.settings import AloneSettings


class Yardstick(StrEnum):
    """What the power was held against: its own surface over cadence and the logged resistance; over cadence at one
    resistance that was not logged but plainly held; its own plateaus, where neither foretells it; or nothing.
    """

    CADENCE_AND_RESISTANCE = "cadence_and_resistance"
    CADENCE = "cadence"
    PLATEAUS = "plateaus"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnSurface:
    """How well power follows what it was held against.

    ``scatter_pct`` is that of 30 s means around it (robust standard deviation, found stretches left out), ``known_pct``
    the share of pedalled seconds at which it is known, ``lag_s`` how late power shows cadence and resistance,
    ``course_pct`` its change along the whole ride (a brake that warms up). Cadences and resistances are those met.
    ``why`` says in a sentence what was used and why nothing better.
    """

    yardstick: Yardstick
    why: str
    scatter_pct: float | None = None
    known_pct: float | None = None
    lag_s: float | None = None
    course_pct: float | None = None
    low_rpm: float | None = None
    high_rpm: float | None = None
    levels: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AloneSeries:
    """Shape (n,) each, one value for each whole second after the first sample, NaN where missing or not recorded.

    ``heart_by_number_bpm`` and ``heart_by_rest_bpm``: around episodes, what the heart would have done if the number
    shown were the effort, and if what the rest of the ride foretells were.
    """

    time_s: FloatArray
    power_w: FloatArray
    foretold_w: FloatArray
    cadence_rpm: FloatArray
    resistance: FloatArray
    heart_bpm: FloatArray
    heart_by_number_bpm: FloatArray
    heart_by_rest_bpm: FloatArray

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in self.__slots__:
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AloneReport:
    """One recording judged by itself. Times are seconds after its first sample.

    ``hours`` is how long power was looked at; ``lost_kj`` what the record lost over episodes that are not the rider's.
    ``channels`` are those that could be asked; ``wanting`` slugs of what would make the answer firmer, most useful
    first.
    """

    recording: RecordingSummary
    settings: AloneSettings
    version: str
    surface: OwnSurface
    episodes: tuple[Episode, ...]
    series: AloneSeries
    hours: float
    mean_w: float | None
    lost_kj: float
    channels: tuple[ChannelName, ...]
    wanting: tuple[str, ...]
