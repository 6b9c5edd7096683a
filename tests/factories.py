"""Comparisons with made-up values, for tests of what is shown. Nothing here is measured; the names are invented."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np

from tests.factories_why import anatomy, settling, stories
from wattwitness.agreement.anatomy import nothing_taken_apart
from wattwitness.agreement.settling import nothing_settled
from wattwitness.model.agreement import (
    AgreementLimits,
    BandTrend,
    BestMean,
    CadenceBand,
    EffortBias,
    EffortKind,
    OverallBias,
    PairSeries,
    PeriodBias,
    PowerBand,
    PowerLine,
    TotalWork,
)
from wattwitness.model.arrays import FloatArray
from wattwitness.model.budget import Budget, Contribution, Distribution, Origin
from wattwitness.model.clock import (
    ClockCandidate,
    ClockFit,
    ClockJump,
    ClockSegment,
    ClockStatus,
    ClockWindows,
)
from wattwitness.model.comparison import (
    Comparison,
    NotAssessed,
    OffsetRange,
    PairComparison,
    RecordingSummary,
)
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, MeterRecord, Notice, Severity, Source
from wattwitness.model.response import Response, ResponseFit, ResponseKind
from wattwitness.model.settings import CompareSettings
from wattwitness.model.settling import TimeModel
from wattwitness.model.three_meters import Closure, MeterOwnError, MetersTogether, OwnSpread

HOSTILE_NAME = (
    "</script><script>document.title='broken'</script><!-- =1+1 "
    '\u202egnp.\u202c \x1b[31mred \u2028 \u0645\u062e\u062a\u0628\u0631 & "x"'
)
SERIAL = "SERIAL-4711-NEVER-SHOWN"
NOT_MADE = Estimate.missing("not_of_this_kind", "s")


def plain(text: str) -> str:
    """``text`` with ordinary blanks for those that keep a number and its unit together."""
    return text.replace("\u00a0", " ")


def percent(value: float, half_width: float = 0.5) -> Estimate:
    """A bias with a symmetrical interval."""
    return Estimate(value=value, low=value - half_width, high=value + half_width, unit="%")


def around(value: float, half_width: float, unit: str) -> Estimate:
    """An estimate with a symmetrical interval in ``unit``."""
    return Estimate(value=value, low=value - half_width, high=value + half_width, unit=unit)


def recording(label: str, *, file_name: str = "", seconds: int = 3600, power: bool = True) -> RecordingSummary:
    """A summary of a recording called ``label``."""
    channels = [(ChannelName.CADENCE, seconds), (ChannelName.HEART_RATE, seconds)]
    if power:
        channels.insert(0, (ChannelName.POWER, seconds))
    return RecordingSummary(
        label=label,
        source=Source(
            file_name=file_name or f"{label.lower().replace(' ', '-')}.fit",
            sha256="5f" * 32,
            size_bytes=120_345,
            format_name="fit",
        ),
        meter=MeterRecord(maker="Laboratory", product="Pedal pair 2", firmware="1.4", serial=SERIAL),
        first_sample_utc="2026-11-03T09:02:11.000+00:00",
        duration_s=float(seconds),
        samples=seconds,
        step_s=1.0,
        event_driven=False,
        channels=tuple(channels),
        notices=(),
    )


def series(
    seconds: int = 3600, bias_pct: float = -4.3, *, seed: int = 7, gaps: bool = True, heart_rate: bool = True
) -> PairSeries:
    """An interval ride: warm-up, five efforts, a cool-down; the unit 8 s smooth and off by ``bias_pct``."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(seconds, dtype=float)
    phase = time_s / max(seconds, 1)
    target = 130 + 60 * np.minimum(phase / 0.15, 1)
    effort = (phase > 0.2) & (phase < 0.9) & ((time_s % 540) < 240)
    target = np.where(effort, 280.0, target)
    target = np.where(phase > 0.92, 120.0, target)
    target += 18 * np.interp(time_s, time_s[::20], rng.normal(size=time_s[::20].size))
    reference_w = np.asarray(np.round(np.clip(target + rng.normal(0, 9, seconds), 0, None)), dtype=np.float64)
    expected_w = trailing_mean(reference_w, 8)
    wander = np.interp(time_s, time_s[::60], rng.normal(0, 0.9, time_s[::60].size))
    unit_w = np.round(expected_w * (1 + (bias_pct + wander) / 100) + rng.normal(0, 1.5, seconds))
    cadence = np.round(np.where(effort, 92, 84) + rng.normal(0, 1.5, seconds))
    heart = np.full(seconds, np.nan)
    if heart_rate:
        level, lagged = 95.0, np.empty(seconds)
        for i, power in enumerate(target):
            level += (70 + 0.36 * power - level) / 45
            lagged[i] = level
        heart = np.round(lagged)
    if gaps and seconds > 1200:
        reference_w[900:960] = np.nan
        unit_w[2000:2040] = np.nan
        cadence[1500:1530] = np.nan
    return PairSeries(
        time_s=time_s,
        reference_w=reference_w,
        expected_w=np.where(np.isfinite(reference_w), expected_w, np.nan),
        unit_w=unit_w,
        difference_pct=100 * (centred_mean(unit_w, 30) / centred_mean(expected_w, 30) - 1),
        reference_rpm=cadence,
        unit_rpm=np.roll(cadence, 1),
        reference_bpm=heart,
        unit_bpm=np.full(seconds, np.nan),
        reference_resistance=np.full(seconds, np.nan),
        unit_resistance=np.full(seconds, np.nan),
    )


def trailing_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean of the last ``width`` values."""
    total = np.cumsum(np.concatenate([np.full(width, values[0]), values]))
    return np.asarray((total[width:] - total[:-width]) / width)


def centred_mean(values: FloatArray, width: int) -> FloatArray:
    """Mean over ``width`` values around each; NaN near a NaN."""
    padded = np.pad(values, (width // 2, width - width // 2 - 1), constant_values=np.nan)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, width).mean(axis=1))


def overall(bias: Estimate | None = None) -> OverallBias:
    """The bias of the whole ride, its other intervals around the same value."""
    made = bias or percent(-4.3)
    value = made.value or 0.0
    return OverallBias(
        bias_pct=made,
        bootstrap_pct=percent(value, 0.4),
        naive_pct=percent(value, 0.1),
        bias_with_reference_pct=percent(value, 6.1),
        reference_uncertainty_pct=3.2,
        reference_uncertainty_origin="the spread found among meters in use",
        wander_time_s=38.0,
        wander_pct=0.9,
        short_for_wander=False,
    )


def periods(seconds: int, count: int, values: tuple[float, ...]) -> tuple[PeriodBias, ...]:
    """``count`` equal stretches of a ride."""
    length = seconds / count
    return tuple(
        PeriodBias(
            start_s=k * length,
            end_s=(k + 1) * length,
            seconds=int(length) - 3,
            reference_w=205.0 + 4 * k,
            unit_w=(205.0 + 4 * k) * (1 + values[k % len(values)] / 100),
            bias_pct=percent(values[k % len(values)], 0.8),
        )
        for k in range(count)
    )


def response(kind: ResponseKind = ResponseKind.MEAN) -> ResponseFit:
    """The unit shows an 8 s mean, 1.2 s late; the reference is prompt."""
    prompt = Response(kind=ResponseKind.PROMPT, width_s=NOT_MADE, tau_s=NOT_MADE, delay_s=around(0, 0, "s"))
    unit = Response(
        kind=kind,
        width_s=around(8, 1, "s") if kind is ResponseKind.MEAN else NOT_MADE,
        tau_s=around(4, 0.5, "s") if kind is ResponseKind.EXPONENTIAL else NOT_MADE,
        delay_s=around(1.2, 0.3, "s"),
    )
    return ResponseFit(reference=prompt, unit=unit, criterion=(("unit mean 8 s", 1200.0), ("prompt", 1890.5)))


def clock(status: ClockStatus = ClockStatus.FOUND, *, jumps: int = 0, seconds: int = 3600) -> ClockFit:
    """A clock found on cadence, 12.3 s behind and 40 ppm fast, with ``jumps`` pauses."""
    at_s = np.linspace(60, max(seconds - 60, 61), 24)
    rng = np.random.default_rng(3)
    offset = 12.3 - 40e-6 * (at_s - seconds / 2) + rng.normal(0, 0.04, at_s.size)
    for k in range(jumps):
        jump_s = seconds * (k + 1) / (jumps + 1)
        after_s, before_middle = at_s > jump_s, jump_s <= seconds / 2
        offset += (30.0 + 15 * k) * (after_s.astype(float) - before_middle)
    offset[5] = np.nan
    return ClockFit(
        status=status,
        offset_s=around(12.3, 0.08, "s"),
        drift_ppm=around(-40.0, 22.0, "ppm"),
        jumps=tuple(
            ClockJump(
                at_s=around(seconds * (k + 1) / (jumps + 1), 2.0, "s"),
                step_s=around(30.0 + 15 * k, 0.2, "s"),
                cause="the reference’s recorder paused",
            )
            for k in range(jumps)
        ),
        segments=(
            ClockSegment(start_unit_s=-np.inf, end_unit_s=np.inf, anchor_unit_s=1800.0, offset_s=12.3, drift_ppm=-40.0),
        ),
        standard_uncertainty_s=0.04,
        runner_up_ratio=0.31,
        candidates=(ClockCandidate(offset_s=12.3, correlation=0.93),),
        channel=ChannelName.CADENCE,
        windows=ClockWindows(at_s=at_s, offset_s=offset, correlation=np.where(np.isnan(offset), np.nan, 0.9)),
        reason="The changes in cadence agree at one offset only.",
    )


def trend(*, mixed: bool = True) -> BandTrend:
    """A bias that seems to change with power but may be the rider's mix."""
    return BandTrend(
        per_100_w=percent(-0.4, 1.1),
        per_10_rpm=percent(0.2, 0.9),
        per_hour=percent(-0.9, 0.7),
        alone_per_100_w=percent(-1.2, 0.4),
        alone_per_10_rpm=percent(-0.8, 0.6),
        alone_per_hour=percent(-1.0, 0.5),
        mixed=mixed,
        why=(
            "The hard efforts came late in the ride, so a change with power cannot be told from a change with time."
            if mixed
            else ""
        ),
    )


def limits() -> tuple[AgreementLimits, ...]:
    """Limits of agreement that narrow as the windows grow."""
    return tuple(
        AgreementLimits(
            window_s=window,
            windows=3540 // window,
            mean_w=around(-8.9, 0.6, "W"),
            low_w=around(-8.9 - spread, 1.0, "W"),
            high_w=around(-8.9 + spread, 1.0, "W"),
            mean_pct=percent(-4.3, 0.4),
            low_pct=percent(-4.3 - spread / 2.1, 0.5),
            high_pct=percent(-4.3 + spread / 2.1, 0.5),
        )
        for window, spread in ((1, 24.0), (10, 13.0), (30, 8.0), (60, 6.0))
    )


def best_means(seconds: int = 3600) -> tuple[BestMean, ...]:
    """Best mean powers up to the ride's length; the longest hidden by a gap."""
    found = []
    for duration in (1, 5, 10, 30, 60, 120, 300, 600, 1200, 1800, 3600):
        if duration > seconds:
            break
        reference = 250 + 320 * duration**-0.3
        hidden = duration == 3600
        found.append(
            BestMean(
                duration_s=duration,
                reference_w=None if hidden else reference,
                unit_w=None if hidden else reference * 0.94,
                same_window_unit_w=None if hidden or duration == 1800 else reference * 0.93,
                reference_through_response_w=None if hidden else reference * 0.975,
                reference_start_s=None if hidden else 800.0,
                unit_start_s=None if hidden else 803.0,
            )
        )
    return tuple(found)


def pair(
    unit_label: str = "Studio bike B",
    reference_label: str = "Laboratory pedals",
    *,
    seconds: int = 3600,
    bias: Estimate | None = None,
) -> PairComparison:
    """One unit against the reference, everything assessed."""
    value = (bias.value if bias is not None else None) or -4.3
    return PairComparison(
        reference=recording(reference_label, seconds=seconds),
        unit=recording(unit_label, seconds=seconds),
        clock=clock(seconds=seconds),
        response=response(),
        common_seconds=seconds - 100 if seconds > 1000 else seconds,
        overall=overall(bias),
        offset_range=None,
        halves=periods(seconds, 2, (value + 0.1, value - 0.1)),
        blocks=periods(seconds, max(round(seconds / 600), 1), (value + 0.6, value - 0.2, value, value - 0.5)),
        power_bands=tuple(
            PowerBand(
                low_w=low,
                high_w=low + 50,
                seconds=count,
                reference_w=low + 24,
                unit_w=(low + 24) * (1 + (value + shift) / 100),
                bias_pct=percent(value + shift, 0.7) if count >= 60 else Estimate.missing("too_short", "%"),
            )
            for low, count, shift in ((100.0, 410, 0.9), (150.0, 1320, 0.3), (200.0, 42, 0), (250.0, 1100, -0.6))
        ),
        cadence_bands=tuple(
            CadenceBand(
                low_rpm=low,
                high_rpm=low + 10,
                seconds=900,
                reference_w=180.0 + low,
                unit_w=(180.0 + low) * (1 + (value + shift) / 100),
                bias_pct=percent(value + shift, 0.9),
            )
            for low, shift in ((80.0, 0.2), (90.0, -0.3))
        ),
        efforts=(
            EffortBias(
                kind=EffortKind.STEADY, seconds=2100, reference_w=190, unit_w=182, bias_pct=percent(value + 0.1, 0.5)
            ),
            EffortBias(
                kind=EffortKind.SURGING, seconds=700, reference_w=240, unit_w=229, bias_pct=percent(value - 0.4, 1.2)
            ),
        ),
        trend=trend(),
        power_line=PowerLine(gain_pct=percent(-5.0), zero_w=around(2.0, 1.0, "W"), low_w=110.0, high_w=300.0),
        budget=budget(),
        anatomy=anatomy(value),
        stories=stories(),
        settling=settling(seconds=seconds, bias_pct=value),
        limits_of_agreement=limits(),
        best_means=best_means(seconds),
        work=TotalWork(reference_kj=741.3, unit_kj=709.4),
        series=series(seconds, value),
        not_assessed=(),
        notices=(
            Notice(
                slug="spike_removed",
                message="One sample of 47 kW is no rider; it was left out.",
                samples=1,
                about="studio-bike-b.fit",
            ),
            Notice(
                slug="no_zone",
                message="The file states no time zone.",
                severity=Severity.NOTE,
                about="laboratory-pedals.fit",
            ),
        ),
    )


def comparison(*pairs: PairComparison, **settings: float) -> Comparison:
    """A comparison of ``pairs`` (one ordinary pair where none is given)."""
    chosen = pairs or (pair(),)
    between = tuple(
        replace(pair(second.unit.label, first.unit.label), overall=overall(percent(1.5)))
        for i, first in enumerate(chosen)
        for second in chosen[i + 1 :]
    )
    return Comparison(
        pairs=chosen,
        between_units=between,
        settings=CompareSettings(**settings),  # type: ignore[arg-type]
        version="0.1.0",
    )


def blank(
    slug: str, why: str, status: ClockStatus = ClockStatus.FOUND, *, keep_clock: bool = True, seconds: int = 3600
) -> PairComparison:
    """A pair about whose power nothing was measured, for the reason ``slug``."""
    full = pair(seconds=seconds)
    missing = Estimate.missing(slug, "%")
    missing_s = Estimate.missing(slug, "s")
    unknown = Response(kind=ResponseKind.NOT_ASSESSED, width_s=missing_s, tau_s=missing_s, delay_s=missing_s)
    nothing = np.full(seconds, np.nan)
    fit = replace(clock(status, jumps=2 if keep_clock else 0), reason=why)
    if not keep_clock:
        fit = replace(
            fit,
            offset_s=missing_s,
            drift_ppm=Estimate.missing(slug, "ppm"),
            segments=(),
            standard_uncertainty_s=float("nan"),
            channel=None,
            windows=ClockWindows(at_s=np.empty(0), offset_s=np.empty(0), correlation=np.empty(0)),
        )
    parts = (
        "bias_pct response halves blocks power_bands cadence_bands efforts trend limits_of_agreement best_means work "
        "anatomy stories settling"
    )
    return replace(
        full,
        clock=fit,
        response=ResponseFit(reference=unknown, unit=unknown),
        common_seconds=seconds if keep_clock else 0,
        overall=OverallBias(
            bias_pct=missing,
            bootstrap_pct=missing,
            naive_pct=missing,
            bias_with_reference_pct=missing,
            reference_uncertainty_pct=float("nan"),
            reference_uncertainty_origin="",
            wander_time_s=float("nan"),
            wander_pct=float("nan"),
            short_for_wander=False,
        ),
        halves=(),
        blocks=(),
        budget=None,
        anatomy=nothing_taken_apart(slug, 0.95),
        stories=(),
        settling=nothing_settled(slug, 0.95),
        power_bands=(),
        cadence_bands=(),
        efforts=(),
        trend=BandTrend(
            per_100_w=missing,
            per_10_rpm=missing,
            per_hour=missing,
            alone_per_100_w=missing,
            alone_per_10_rpm=missing,
            alone_per_hour=missing,
            mixed=False,
            why=why,
        ),
        limits_of_agreement=(),
        best_means=(),
        work=None,
        series=replace(full.series, reference_w=nothing, expected_w=nothing, unit_w=nothing, difference_pct=nothing)
        if keep_clock
        else PairSeries(**{name: np.empty(0) for name in PairSeries.__slots__}),
        not_assessed=tuple(NotAssessed(what=part, slug=slug, why=why) for part in parts.split()),
    )


def reference_without_power() -> Comparison:
    """The clock stands with two jumps; nothing about power is assessed."""
    made = blank("no_power", "“Laboratory pedals” holds no power.")
    return comparison(replace(made, reference=recording("Laboratory pedals", power=False)))


def ambiguous() -> Comparison:
    """Equal intervals: seven offsets fit, the bias given as its range."""
    made = blank(
        "clock_ambiguous",
        "Equal efforts repeat every 60 s, so 7 offsets fit.",
        ClockStatus.AMBIGUOUS,
        keep_clock=False,
    )
    candidates = tuple(ClockCandidate(offset_s=60.0 * k + 2, correlation=0.98 - 0.003 * k) for k in range(7))
    return comparison(
        replace(
            made,
            clock=replace(made.clock, candidates=candidates, runner_up_ratio=0.997),
            offset_range=OffsetRange(low_pct=-4.9, high_pct=-3.1, offsets=7),
        )
    )


def no_common_effort() -> Comparison:
    """Two rides that have nothing to do with one another."""
    return comparison(
        blank(
            "clock_no_common_effort",
            "No offset makes the two efforts agree.",
            ClockStatus.NO_COMMON_EFFORT,
            keep_clock=False,
        )
    )


def same_source() -> Comparison:
    """Two exports of one recording."""
    return comparison(
        blank(
            "clock_same_source",
            "Both files hold the same samples: two exports of one recording.",
            ClockStatus.SAME_SOURCE,
            keep_clock=False,
        )
    )


def by_hand() -> Comparison:
    """The offset was given by hand."""
    made = pair()
    return comparison(
        replace(
            made,
            clock=replace(
                made.clock,
                status=ClockStatus.BY_HAND,
                channel=None,
                offset_s=around(-3600.5, 0, "s"),
                drift_ppm=Estimate.missing("given_by_hand", "ppm"),
                standard_uncertainty_s=float("nan"),
                windows=ClockWindows(at_s=np.empty(0), offset_s=np.empty(0), correlation=np.empty(0)),
                reason="The offset was given by hand.",
            ),
        )
    )


def with_delay() -> Comparison:
    """The clock was found on power alone: the offset is known from one side only."""
    made = pair()
    fit = replace(
        made.clock,
        status=ClockStatus.FOUND_WITH_DELAY,
        channel=ChannelName.POWER,
        offset_s=Estimate(value=10.4, low=-np.inf, high=10.6, unit="s"),
        reason="Only power is shared, so a late display cannot be told from a late clock.",
    )
    return comparison(replace(made, clock=fit, settling=settling(TimeModel.CONFOUNDED)))


def several_units() -> Comparison:
    """Three studio bikes against one pair of pedals, a limit stated, one of them broken."""
    return comparison(
        pair("Studio bike A", bias=percent(-0.3, 0.6)),
        pair("Studio bike B"),
        pair("Studio bike C", bias=percent(2.04, 0.3)),
        limit_pct=2.0,
    )


def with_jumps() -> Comparison:
    """The reference's recorder paused twice."""
    return comparison(replace(pair(), clock=clock(jumps=2)))


def three_minutes() -> Comparison:
    """A very short ride: hardly anything can be said."""
    made = pair(seconds=180, bias=percent(-2.0, 9.0))
    return comparison(
        replace(
            made,
            blocks=(),
            halves=periods(180, 2, (-1.0, -3.0)),
            power_bands=(),
            cadence_bands=(),
            limits_of_agreement=(),
            anatomy=nothing_taken_apart("not_varied", 0.95),
            stories=(),
            settling=nothing_settled("too_short", 0.95),
            overall=replace(made.overall, short_for_wander=True),
            not_assessed=(
                NotAssessed(what="power_bands", slug="too_short", why="No band holds a minute of riding."),
                NotAssessed(what="limits_of_agreement", slug="too_short", why="Fewer than ten windows."),
            ),
        )
    )


def huge_values() -> Comparison:
    """Numbers no rider makes, one-sided intervals, and a bias without an upper bound."""
    made = pair(bias=Estimate(value=98_765.4, low=1.2, high=np.inf, unit="%"))
    wild = replace(
        made.series,
        unit_w=np.where(made.series.time_s == 100, 2.5e6, made.series.unit_w),
        difference_pct=np.where(made.series.time_s == 100, 1e9, made.series.difference_pct),
    )
    return comparison(replace(made, series=wild, work=TotalWork(reference_kj=0.0, unit_kj=9.9e12)))


def hostile_names() -> Comparison:
    """Names from files that try to break out of the page, the terminal or the sentence."""
    made = pair(HOSTILE_NAME, "<img src=x onerror=alert(1)>")
    notice = Notice(slug="odd_name", message=f"The file says {HOSTILE_NAME}", about=HOSTILE_NAME)
    meter = MeterRecord(maker=HOSTILE_NAME, product=HOSTILE_NAME, firmware=HOSTILE_NAME, serial=SERIAL)
    source = replace(made.unit.source, file_name=f"{HOSTILE_NAME}.fit", part_label=HOSTILE_NAME)
    return comparison(
        replace(made, unit=replace(made.unit, meter=meter, source=source), notices=(*made.notices, notice))
    )


def no_difference() -> Comparison:
    """A good bike: the interval holds zero; a prompt display."""
    made = pair("Studio bike A", bias=Estimate(value=0.15, low=-0.4, high=0.7, unit="%"))
    return comparison(replace(made, response=response(ResponseKind.PROMPT)), limit_pct=2.0)


def budget() -> Budget:
    """A budget of a few parts."""
    parts = (
        Contribution(
            name="claim",
            title="the reference meter",
            unit="%",
            standard_uncertainty=3.2,
            sensitivity=0.95,
            distribution=Distribution.NORMAL,
            origin=Origin.ASSUMED,
            source="default: spread among meters in use",
            common=True,
            is_default=True,
        ),
        Contribution(
            name="clock",
            title="the clock",
            unit="s",
            standard_uncertainty=0.02,
            sensitivity=0.0,
            distribution=Distribution.NORMAL,
            origin=Origin.MEASURED,
            source="fit of the clocks",
        ),
        Contribution(
            name="statistics",
            title="the length of the ride",
            unit="%",
            standard_uncertainty=0.25,
            sensitivity=1.0,
            distribution=Distribution.NORMAL,
            origin=Origin.MEASURED,
            source="wander along it",
            degrees=6.0,
        ),
    )
    return Budget(
        contributions=parts,
        level=0.95,
        standard_pct=3.05,
        degrees=130_000.0,
        coverage_factor=1.96,
        expanded_pct=5.98,
        monte_carlo_low_pct=-5.98,
        monte_carlo_high_pct=6.0,
        common_pct=3.04,
        reference_pct=3.04,
        notes=("Where the two meters take the power is not on record.",),
    )


def spread(averaging_s: int, value: float, *, variance: float | None = None) -> OwnSpread:
    """A meter's own error at one averaging time; with ``variance`` below zero it is shown as none."""
    found = value**2 if variance is None else variance
    return OwnSpread(
        averaging_s=averaging_s,
        windows=3600 // averaging_s,
        variance_pct2=found,
        variance_w2=4 * found,
        own_sd_pct=Estimate(value=value, low=0.8 * value, high=1.3 * value + 0.1, unit="%"),
        own_sd_w=Estimate(value=2 * value, low=1.6 * value, high=2.6 * value + 0.2, unit="W"),
        resolved=0.4 if averaging_s == 1 else 1.0,
        negative=found < 0,
        contradicted=found < -1,
    )


def meters_together(*names: str) -> MetersTogether:
    """Meters with errors of their own, one with a variance below zero and one beyond chance."""
    return MetersTogether(
        meters=tuple(
            MeterOwnError(
                name=name,
                recording=place,
                spreads=(
                    spread(1, 1.2),
                    spread(10, 0.0 if place else 0.6, variance=-0.04 if place else None),
                    spread(30, 0.0 if place == 2 else 0.4, variance=-1.5 if place == 2 else None),
                ),
            )
            for place, name in enumerate(names)
        ),
        closures=(Closure(first=1, second=2, closure_pct=around(0.8, 0.3, "%"), closes=False),),
        seconds=3400,
        assumptions=("The errors of the meters are taken to be independent.",),
        warnings=("The own variance of one meter came out below zero.",),
    )


def on_trial() -> Comparison:
    """Pedals and two bikes with budget, setup findings and own errors."""
    finding = Notice(slug="zero_not_taken", message="Laboratory pedals: its zero was not taken.", about="setup")
    pairs = [
        replace(pair(name), budget=budget(), setup_findings=(finding,)) for name in ("Studio bike A", "Studio bike B")
    ]
    made = comparison(*pairs)
    return replace(made, meters=meters_together("Laboratory pedals", "Studio bike A", "Studio bike B"))


def hardly_together() -> Comparison:
    """Three recordings of which too few share a clock, and whose names are hostile."""
    nothing = MetersTogether(
        meters=(),
        closures=(),
        seconds=0,
        assumptions=(),
        warnings=(),
        not_assessed="too_few_meters",
        why="Fewer than three recordings share a clock and power.",
    )
    finding = Notice(slug="battery_low", message=f"{HOSTILE_NAME}: its battery stood at 1 %.", about=HOSTILE_NAME)
    made = comparison(replace(pair(HOSTILE_NAME), setup_findings=(finding,)), pair("Studio bike B"))
    return replace(made, meters=nothing)


EPISODE_COMPARISONS = ("no_episode", "every_finding", "hostile_episodes", "two_units_with_episodes")


def with_episodes(name: str) -> Comparison:
    """A comparison with episodes by its name; they are built on those here, so they are asked for late."""
    from tests.factories_episodes import WITH_EPISODES

    return WITH_EPISODES[name]()


COMPARISONS: dict[str, Callable[[], Comparison]] = {
    "ordinary": comparison,
    "no_difference": no_difference,
    "reference_without_power": reference_without_power,
    "ambiguous": ambiguous,
    "no_common_effort": no_common_effort,
    "same_source": same_source,
    "by_hand": by_hand,
    "with_delay": with_delay,
    "several_units": several_units,
    "with_jumps": with_jumps,
    "three_minutes": three_minutes,
    "huge_values": huge_values,
    "hostile_names": hostile_names,
    "on_trial": on_trial,
    "hardly_together": hardly_together,
    **{name: partial(with_episodes, name) for name in EPISODE_COMPARISONS},
}
