"""Measure one unit against the reference on a clock that is settled: the rooms below, in their order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from wattwitness.agreement.bands import cadence_bands, power_bands
from wattwitness.agreement.best_means import best_means
from wattwitness.agreement.efforts import effort_biases
from wattwitness.agreement.limits import limits_of_agreement
from wattwitness.agreement.line import power_line
from wattwitness.agreement.overall import overall_bias
from wattwitness.agreement.periods import blocks, halves
from wattwitness.agreement.series import pair_series
from wattwitness.agreement.trend import band_trend
from wattwitness.agreement.work import total_work
from wattwitness.clock.grid import align
from wattwitness.clock.response import compared_unit_power, expected_power
from wattwitness.model.aligned import AlignedPair
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.comparison import NotAssessed, PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName, Notice, Recording, Severity
from wattwitness.model.response import ResponseFit
from wattwitness.model.settings import CompareSettings
from wattwitness.model.setup import MeterFile
from wattwitness.workflows.blank import blank_pair
from wattwitness.workflows.faults import faults_not, faults_of_pair, left_out, usual_overall, without_episodes
from wattwitness.workflows.responses import responses_of_pair
from wattwitness.workflows.ride_budget import budget_of_ride, with_budget
from wattwitness.workflows.stretches_out import episodes_told, faults_outside, stretches_told, without_stretches
from wattwitness.workflows.summary import display_label
from wattwitness.workflows.together import usual_since_s
from wattwitness.workflows.why import why_not, why_of_pair

MOST_CADENCE_APART = 0.05
"""Share by which the medians may be apart untold: far more than counting whole turns does."""
LEAST_CADENCE_SECONDS = 60
LEAST_CHANGES = 60
"""Fewer changes of a held cadence may be alike by chance."""


def measure_pair(
    reference: Recording,
    unit: Recording,
    clock: ClockFit,
    settings: CompareSettings,
    *,
    reference_is_unit: bool = False,
    reference_meter: MeterFile | None = None,
    unit_meter: MeterFile | None = None,
) -> PairComparison:
    """Align, take the response out, and measure everything the two recordings allow.

    Where one side has no power, everything about power is not assessed and says so; the clock stands.
    """
    pair = align(reference, unit, clock)
    without = [recording for recording in (reference, unit) if not recording.has(ChannelName.POWER)]
    if without:
        names = " and ".join(f"“{display_label(recording)}”" for recording in without)
        return replace(
            blank_pair(reference, unit, clock, settings, slug="no_power", why=f"{names} holds no power."),
            common_seconds=_seconds_both_recorded(pair),
            series=pair_series(pair, np.full_like(pair.time_s, np.nan)),
        )
    blank = blank_pair(
        reference,
        unit,
        clock,
        settings,
        slug="no_common_power",
        why="There is no second in which both meters show power.",
    )
    described = (None, None) if reference_is_unit else (reference_meter, unit_meter)
    recorded = (reference, unit)
    return _measure_power(pair, recorded, blank, clock, settings, described, reference_is_unit=reference_is_unit)


def _measure_power(
    pair: AlignedPair,
    recorded: tuple[Recording, Recording],
    blank: PairComparison,
    clock: ClockFit,
    settings: CompareSettings,
    described: tuple[MeterFile | None, MeterFile | None],
    *,
    reference_is_unit: bool,
) -> PairComparison:
    level = settings.level
    whole, pair = pair, without_stretches(pair, settings.stretches_out)
    reference_w, unit_w = pair.reference[ChannelName.POWER], pair.unit[ChannelName.POWER]
    response = responses_of_pair(pair, recorded, clock, settings)
    expected_w = expected_power(reference_w, response)
    compared_w = compared_unit_power(unit_w, response)
    both = np.isfinite(expected_w) & np.isfinite(compared_w)
    left_out_told = _left_out_told(whole, recorded, response, clock, settings)
    if not both.any():
        if left_out_told:
            nothing = "The tester left out every second in which both meters show power."
            blank = blank_pair(*recorded, clock, settings, slug="no_common_power", why=nothing)
        return replace(blank, notices=blank.notices + left_out_told)
    overall = overall_bias(
        expected_w,
        compared_w,
        level=level,
        reference_uncertainty_pct=settings.reference_uncertainty_pct,
        seed=settings.bootstrap_seed,
    )
    cadence_rpm, cadence_missing = _cadence(pair, both)
    budget = None
    if reference_is_unit:
        missing = Estimate.missing("reference_is_a_unit", "%", level)
        overall = replace(overall, bias_with_reference_pct=missing)
    else:
        budget = budget_of_ride(
            reference_w, expected_w, compared_w, cadence_rpm, overall, clock, settings, meters=described
        )
        overall = with_budget(overall, budget, described[0])
    faults = faults_outside(
        faults_of_pair(pair, recorded, response, expected_w, compared_w, clock, settings), settings.stretches_out
    )
    usual_w = without_episodes(pair.time_s, compared_w, faults)
    why = why_of_pair(
        pair,
        recorded[1],
        response,
        expected_w,
        usual_w,
        usual_overall(overall, faults),
        meters=described,
        level=level,
        episodes=left_out(faults),
    )
    notices = _notices(clock, short=overall.short_for_wander, seconds=int(both.sum()))
    return replace(
        blank,
        response=response,
        common_seconds=int(both.sum()),
        overall=overall,
        halves=halves(pair.time_s, expected_w, compared_w, level=level),
        blocks=blocks(pair.time_s, expected_w, compared_w, block_min=settings.block_min, level=level),
        power_bands=power_bands(expected_w, compared_w, width_w=settings.power_band_w, level=level),
        cadence_bands=cadence_bands(
            cadence_rpm, expected_w, compared_w, width_rpm=settings.cadence_band_rpm, level=level
        ),
        efforts=effort_biases(expected_w, compared_w, level=level),
        trend=band_trend(pair.time_s, cadence_rpm, expected_w, compared_w, level=level),
        power_line=power_line(expected_w, compared_w, level=level),
        limits_of_agreement=limits_of_agreement(expected_w, compared_w, level=level),
        best_means=best_means(reference_w, expected_w, unit_w),
        work=total_work(expected_w, compared_w),
        series=pair_series(whole, expected_w),
        anatomy=why.anatomy,
        stories=why.stories,
        settling=why.settling,
        line=why.line,
        not_assessed=cadence_missing + why_not(why) + faults_not(faults),
        notices=blank.notices + left_out_told + notices + cadences_disagree(pair) + cadence_shared(recorded),
        stretches_out=settings.stretches_out,
        budget=budget,
        faults=faults,
        usual_since_s=(usual_since_s(pair.reference_blend), usual_since_s(pair.unit_blend)),
    )


def _left_out_told(
    whole: AlignedPair,
    recorded: tuple[Recording, Recording],
    response: ResponseFit,
    clock: ClockFit,
    settings: CompareSettings,
) -> tuple[Notice, ...]:
    """What the tester left out, and which episodes lie in it; ``whole`` has nothing taken out."""
    if not settings.stretches_out:
        return ()
    expected_w = expected_power(whole.reference[ChannelName.POWER], response)
    compared_w = compared_unit_power(whole.unit[ChannelName.POWER], response)
    faults = faults_of_pair(whole, recorded, response, expected_w, compared_w, clock, settings)
    told = stretches_told(whole.time_s, expected_w, compared_w, settings.stretches_out)
    return told + episodes_told(faults, settings.stretches_out)


def _cadence(pair: AlignedPair, both: np.ndarray) -> tuple[FloatArray, tuple[NotAssessed, ...]]:
    """The reference's cadence, else the unit's; all NaN, with the reason, where neither has any."""
    for side in (pair.reference, pair.unit):
        cadence = side.get(ChannelName.CADENCE)
        if cadence is not None and bool(np.any(np.isfinite(cadence) & both)):
            return cadence, ()
    reason = NotAssessed(what="cadence_bands", slug="no_cadence", why="Neither recording holds cadence.")
    return np.full_like(pair.time_s, np.nan), (reason,)


def cadences_disagree(pair: AlignedPair) -> tuple[Notice, ...]:
    """A notice where both meters recorded cadence and their median ratio is off by more than 5 %."""
    reference, unit = pair.reference.get(ChannelName.CADENCE), pair.unit.get(ChannelName.CADENCE)
    if reference is None or unit is None:
        return ()
    turning = (reference > 0) & (unit > 0)
    if int(turning.sum()) < LEAST_CADENCE_SECONDS:
        return ()
    ratio = float(np.median(reference[turning] / unit[turning]))
    if abs(ratio - 1) <= MOST_CADENCE_APART:
        return ()
    message = (
        f"The reference's cadence is {ratio:.2f} times the unit's in the median. One of them is wrong, and a zero in "
        "N·m is as wrong as the cadence it is divided by: find out which before you use the zero or a story about it."
    )
    notice = Notice(slug="cadences_disagree", message=message, severity=Severity.WARNING, about="anatomy.zero_nm")
    return (notice,)


def cadence_shared(recorded: tuple[Recording, Recording]) -> tuple[Notice, ...]:
    """A warning where both recordings hold the same cadence, sample by sample, as two exports of one recording do.

    Two recorders that listen to one cadence sensor hold it too, so this is told and no reason to refuse the two.
    """
    channels = [recording.channels.get(ChannelName.CADENCE) for recording in recorded]
    one_file = recorded[0].source.sha256 == recorded[1].source.sha256
    if channels[0] is None or channels[1] is None or one_file:
        return ()  # two meters in one file share its cadence
    first, second = (values[np.isfinite(values)] for values in channels if values is not None)
    changes = int(np.count_nonzero(np.diff(first))) if first.size else 0
    if first.size != second.size or changes < LEAST_CHANGES or not np.array_equal(first, second):
        return ()
    message = (
        f"Both hold the same cadence in every one of {first.size} samples: either both listened to one sensor, or one "
        "is made from the other. If it is, the two are no comparison."
    )
    return (Notice(slug="cadence_shared", message=message, severity=Severity.WARNING, about="clock"),)


def _seconds_both_recorded(pair: AlignedPair) -> int:
    """Seconds in which each side has a sample of any channel."""
    present = [
        np.any([np.isfinite(values) for values in side.values()], axis=0) if side else np.zeros(pair.time_s.size, bool)
        for side in (pair.reference, pair.unit)
    ]
    return int(np.sum(present[0] & present[1]))


def _notices(clock: ClockFit, *, short: bool, seconds: int) -> tuple[Notice, ...]:
    found: list[Notice] = []
    if clock.status is ClockStatus.BY_HAND:
        found.append(
            Notice(
                slug="clock_by_hand",
                message=f"The clock offset was given by hand; every result stands on it. {clock.reason}",
                about="clock",
            )
        )
    if short:
        found.append(
            Notice(
                slug="short_for_wander",
                message=(
                    "The error wanders slowly and the ride holds few independent stretches of it, so the interval of "
                    "the bias may be too narrow: ride longer, or several times."
                ),
                about="bias_pct",
            )
        )
    if seconds < 600:
        found.append(
            Notice(
                slug="little_in_common",
                message=f"Only {seconds} seconds hold power from both meters; ten minutes or more say far more.",
                severity=Severity.WARNING,
                samples=seconds,
                about="common_seconds",
            )
        )
    return tuple(found)
