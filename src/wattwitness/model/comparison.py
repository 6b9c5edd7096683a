"""What one comparison found: the whole answer for each unit ridden against the reference."""

from __future__ import annotations

from dataclasses import dataclass

from wattwitness.model.agreement import (
    AgreementLimits,
    BandTrend,
    BestMean,
    CadenceBand,
    EffortBias,
    OverallBias,
    PairSeries,
    PeriodBias,
    PowerBand,
    PowerLine,
    TotalWork,
)
from wattwitness.model.anatomy import Anatomy, GainZeroLine, Story
from wattwitness.model.budget import Budget
from wattwitness.model.clock import ClockFit
from wattwitness.model.episodes import FaultsFound
from wattwitness.model.left_out import LeftOutStretch
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Source
from wattwitness.model.response import ResponseFit
from wattwitness.model.settings import CompareSettings
from wattwitness.model.settling import Settling
from wattwitness.model.three_meters import MetersTogether


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordingSummary:
    """What a recording holds, without its samples. ``first_sample_utc`` is ISO 8601, empty where undated.

    ``spot``: single readings of a display at noted times, with nothing known between them. ``one_power_w``: the one
    number that every sample shows as power (``None``: they differ, or there is none).
    """

    label: str
    source: Source
    meter: MeterRecord
    first_sample_utc: str
    duration_s: float
    samples: int
    step_s: float
    event_driven: bool
    channels: tuple[tuple[ChannelName, int], ...]
    notices: tuple[Notice, ...]
    spot: bool = False
    one_power_w: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotAssessed:
    """A part of the answer that could not be given: ``what`` is its key, ``slug`` and ``why`` the reason."""

    what: str
    slug: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetRange:
    """Where the clock is ambiguous: the bias at every plausible offset, lowest and highest, in percent."""

    low_pct: float
    high_pct: float
    offsets: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairComparison:
    """One unit against the reference. Parts that could not be computed are empty and stand in ``not_assessed``.

    ``usual_since_s`` says of reference and unit how long before each grid second their sample before it usually stands,
    where straight lines between samples put their power on the grid; 0 where none did. ``faults`` is ``None`` where
    they could not be looked for. ``stretches_out`` were left out by the tester.
    """

    reference: RecordingSummary
    unit: RecordingSummary
    clock: ClockFit
    response: ResponseFit
    common_seconds: int
    overall: OverallBias
    offset_range: OffsetRange | None
    halves: tuple[PeriodBias, ...]
    blocks: tuple[PeriodBias, ...]
    power_bands: tuple[PowerBand, ...]
    cadence_bands: tuple[CadenceBand, ...]
    efforts: tuple[EffortBias, ...]
    trend: BandTrend
    limits_of_agreement: tuple[AgreementLimits, ...]
    best_means: tuple[BestMean, ...]
    work: TotalWork | None
    series: PairSeries
    not_assessed: tuple[NotAssessed, ...]
    notices: tuple[Notice, ...]
    power_line: PowerLine | None = None
    budget: Budget | None = None
    anatomy: Anatomy | None = None
    stories: tuple[Story, ...] = ()
    settling: Settling | None = None
    setup_findings: tuple[Notice, ...] = ()
    faults: FaultsFound | None = None
    line: GainZeroLine | None = None
    usual_since_s: tuple[float, float] = (0.0, 0.0)
    stretches_out: tuple[LeftOutStretch, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Comparison:
    """A reference and one or more units of one ride; ``pairs`` holds reference against each, in the order given,
    ``between_units`` every unit against every later one. ``meters`` puts three recordings or more on trial together.
    """

    pairs: tuple[PairComparison, ...]
    between_units: tuple[PairComparison, ...]
    settings: CompareSettings
    version: str
    meters: MetersTogether | None = None
