"""From the comparison of one ride to the figures that a study needs of it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from wattwitness.clock.one_number import likeliest_cause, shows_only
from wattwitness.model.anatomy import GainZeroLine
from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import PairComparison
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import Severity
from wattwitness.model.settling import Settling, TimeModel
from wattwitness.model.study import RideFigures
from wattwitness.stats.longrun import COSINES
from wattwitness.stats.quantiles import student_quantile

FIGURES_EDITION = 4
"""Raised with every change of a calculation that alters the figures of a ride, so that kept ones are made anew."""

MOST_HALF_PCT = 25.0
"""Points: a ride whose interval is wider, as with a clock that is wrong by minutes, is no evidence of anything."""

BROKEN_SETUP = ("crank_length_mismatch", "zero_not_taken")
"""Findings on the setup of the reference or the unit that make a ride no evidence of the unit's everyday bias."""

MOST_DEGREES = 2.0 * COSINES
"""A ride's fitted relation is never credited with more: its wander was learnt from that ride too."""

HELD_S = 60
TOLD_OF_PAIR = ("clock_by_hand", "left_out_by_tester", "episodes_left_out", "cadence_shared")
RADIANS_PER_S = 2 * math.pi / 60


@dataclass(frozen=True, slots=True, kw_only=True)
class RideNotes:
    """What is on record of a ride beside its recordings; empty or NaN where nothing is."""

    name: str
    unit: str = ""
    day: str = ""
    firmware: str = ""
    rider: str = ""
    group: str = ""
    temperature_c: float = math.nan
    excluded: str = ""


def figures_of_ride(pair: PairComparison, notes: RideNotes) -> RideFigures:
    """The figures of one ride; what a standard power and cadence need is filled in by ``standardised``."""
    bias = pair.overall.bias_pct
    left_out, why = _left_out(pair, notes)
    settling = _course(pair.settling)
    line = pair.line
    mean_w, mean_rpm = _means(pair)
    usable = bias.value is not None and bias.high is not None and math.isfinite(bias.high - bias.value)
    return RideFigures(
        name=notes.name,
        unit=notes.unit or pair.unit.meter.product or pair.unit.label,
        day=notes.day or pair.reference.first_sample_utc[:10] or pair.unit.first_sample_utc[:10],
        hours=pair.common_seconds / 3600 if pair.common_seconds else math.nan,
        bias_pct=bias,
        bias_se_pct=_standard_error(bias) if usable else math.nan,
        bias_degrees=float(COSINES),
        standardised_pct=Estimate.missing("not_standardised_yet", "%", bias.level),
        standardised_se_pct=math.nan,
        standardised_degrees=math.nan,
        gain_pct=math.nan if line is None else line.gain_pct,
        zero_nm=math.nan if line is None else line.zero_nm,
        relation_covariance=_covariance(line),
        mean_w=mean_w,
        mean_rpm=mean_rpm,
        left_out=left_out,
        left_out_why=why,
        supposed_pct=_supposed(pair) if left_out else math.nan,
        temperature_c=notes.temperature_c,
        firmware=notes.firmware or pair.unit.meter.firmware,
        rider=notes.rider,
        group=notes.group,
        start_bias_pct=settling[0],
        settled_bias_pct=settling[1],
        tau_min=settling[2],
        episodes=() if pair.faults is None else pair.faults.episodes,
        faults_looked_for=pair.faults is not None,
        usual_bias_pct=_usual(pair),
        reference_uncertainty_pct=pair.overall.reference_uncertainty_pct,
        block_bias_pct=tuple(block.bias_pct.value for block in pair.blocks if block.bias_pct.value is not None),
        said=_said(pair),
        ridden_w=_ridden(pair),
        source_sha256=(pair.reference.source.sha256, pair.unit.source.sha256),
    )


def _ridden(pair: PairComparison) -> tuple[float, float]:
    """Mean powers of the lowest and the highest band of power that was held for a minute or more; NaN without any."""
    held = [band.reference_w for band in pair.power_bands if band.seconds >= HELD_S and math.isfinite(band.reference_w)]
    return (min(held), max(held)) if held else (math.nan, math.nan)


def _said(pair: PairComparison) -> tuple[str, ...]:
    """What a tester should know of the ride before its figures are believed: files cut short, stretches left out."""
    files = [(recording.source.file_name, recording.notices) for recording in (pair.reference, pair.unit)]
    of_files = [
        f"{name}: {notice.message}"
        for name, notices in files
        for notice in notices
        if notice.severity is Severity.WARNING
    ]
    of_tester = [notice.message for notice in pair.notices if notice.slug in TOLD_OF_PAIR]
    return tuple(dict.fromkeys(of_files + of_tester))


def standardised(ride: RideFigures, at_w: float, at_rpm: float, *, level: float) -> RideFigures:
    """The ride with its bias carried to ``at_w`` and ``at_rpm`` by its own fitted relation.

    bias = gain + zero / torque. A ride whose relation could not be fitted keeps its bias as ridden.
    """
    lever = 100 * RADIANS_PER_S * at_rpm / at_w
    value = ride.gain_pct + ride.zero_nm * lever
    gain, both, zero = ride.relation_covariance
    variance = gain + 2 * both * lever + zero * lever**2
    if not (math.isfinite(value) and math.isfinite(variance) and variance > 0):
        return replace(
            ride,
            standardised_pct=ride.bias_pct,
            standardised_se_pct=ride.bias_se_pct,
            standardised_degrees=ride.bias_degrees,
        )
    error = math.sqrt(variance)
    half = student_quantile(level, int(MOST_DEGREES)) * error
    return replace(
        ride,
        standardised_pct=Estimate(value=value, low=value - half, high=value + half, unit="%", level=level),
        standardised_se_pct=error,
        standardised_degrees=MOST_DEGREES,
    )


def _left_out(pair: PairComparison, notes: RideNotes) -> tuple[str, str]:
    """Why the ride does not count, as slug and sentence; empty where it does."""
    if notes.excluded:
        return "excluded_by_tester", notes.excluded
    for name, side in (("the reference", pair.reference), ("the unit", pair.unit)):
        if side.one_power_w is not None and pair.clock.status is not ClockStatus.SAME_SOURCE:
            shows = shows_only(name, side.one_power_w)
            return "one_number", f"{shows[:1].upper()}{shows[1:]}. {likeliest_cause(side.one_power_w)}"
    if not pair.clock.status.usable:
        return f"clock_{pair.clock.status.value}", pair.clock.reason or "The two recordings have no common clock."
    if pair.overall.bias_pct.value is None:
        slug = pair.overall.bias_pct.not_assessed or "not_assessed"
        why = next((item.why for item in pair.not_assessed if item.what == "bias_pct"), "")
        return slug, why or "The bias of this ride could not be assessed."
    if not math.isfinite(_standard_error(pair.overall.bias_pct)):
        return "open_interval", "The ride sets no bound to its bias."
    half_pct = _half_pct(pair)
    if half_pct > MOST_HALF_PCT:
        hand = " The clock was given by hand, and the efforts do not lie on one another." if _by_hand(pair) else ""
        return (
            "interval_too_wide",
            f"The ride leaves its bias open by ±{half_pct:.0f} points, and so says nothing.{hand}",
        )
    for finding in pair.setup_findings:
        if finding.slug in BROKEN_SETUP and finding.severity is Severity.WARNING:
            return finding.slug, finding.message
    return "", ""


def _half_pct(pair: PairComparison) -> float:
    """How far the bias is open, in points: a ride that one drop makes unsure is as sure as it is apart from it."""
    found = [pair.overall.bias_pct] + ([] if pair.faults is None else [pair.faults.bias_without_pct])
    return min(one.high - one.value if one.value is not None and one.high is not None else math.inf for one in found)


def _by_hand(pair: PairComparison) -> bool:
    return pair.clock.status is ClockStatus.BY_HAND


def _standard_error(bias: Estimate) -> float:
    if bias.value is None or bias.high is None:
        return math.nan
    return (bias.high - bias.value) / student_quantile(bias.level, COSINES)


def _supposed(pair: PairComparison) -> float:
    """The bias of a ride that does not count, for saying what it would change."""
    if pair.overall.bias_pct.value is not None:
        return pair.overall.bias_pct.value
    if pair.offset_range is not None:
        return (pair.offset_range.low_pct + pair.offset_range.high_pct) / 2
    return math.nan


def _usual(pair: PairComparison) -> float:
    """The bias apart from episodes, which are judged by themselves; of the whole ride where none were looked for."""
    bias = pair.overall.bias_pct if pair.faults is None else pair.faults.bias_without_pct
    return math.nan if bias.value is None else bias.value


def _course(settling: Settling | None) -> tuple[float, float, float]:
    """Start, settled bias and time constant of a bias that settles; NaN where it does not."""
    if settling is None or settling.model is not TimeModel.SETTLING:
        return math.nan, math.nan, math.nan
    values = (settling.start_bias_pct.value, settling.settled_bias_pct.value, settling.tau_min.value)
    start, settled, tau = (math.nan if value is None else value for value in values)
    return start, settled, tau


def _covariance(line: GainZeroLine | None) -> tuple[float, float, float]:
    if line is None:
        return math.nan, math.nan, math.nan
    return line.gain_variance, line.covariance, line.zero_variance


def _means(pair: PairComparison) -> tuple[float, float]:
    """Mean power of the reference through the response, and mean cadence, over the seconds compared with any power."""
    series = pair.series
    expected = series.expected_w
    if expected.size == 0:
        return math.nan, math.nan
    both = np.isfinite(expected) & np.isfinite(series.unit_w) & (expected > 0)
    if not both.any():
        return math.nan, math.nan
    for cadence in (series.reference_rpm, series.unit_rpm):
        known = both & np.isfinite(cadence)
        if known.sum() > both.sum() / 2:
            return float(expected[both].mean()), float(cadence[known].mean())
    return float(expected[both].mean()), math.nan
