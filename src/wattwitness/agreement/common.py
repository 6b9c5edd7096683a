"""The stretch of a ride that both meters recorded, and the bias of any of its seconds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from wattwitness.model.arrays import BoolArray, FloatArray
from wattwitness.model.estimate import Estimate
from wattwitness.stats.longrun import FittedSeconds, LongRun, fit_seconds, half_width, long_run
from wattwitness.stats.moving import centred_mean, sample_density
from wattwitness.stats.wander import fit_wander

LEAST_SPAN_S = 60
LEAST_SAMPLES = 20
"""With less in common no interval can be given for anything."""

LEAST_PIECE_SAMPLES = 10

LEAST_MEAN_W = 1.0
"""A percentage of less than this is of nothing."""

LEAST_PIECE_MEAN_W = 25.0
"""A piece on whose mean the rider did less than this (rolling to a stop) gets no percentage: a display's rounding to
whole watts alone moves it by half a percent."""

UNIT_PULL = 0.03
"""How far the unit's own reading may move a second away from the reference's power when bands are entered."""


LEAST_SAMPLES_FOR_ZERO = 100
LEAST_SPREAD_FOR_ZERO = 0.05
"""A zero error is fitted beside the gain with so many samples, if the power's relative spread over them is this."""

HELD_SHARE = 0.05
"""The effort held over a minute if the mean of both 30 s means changed by less than this."""

LEAST_HELD_SECONDS = 300


@dataclass(frozen=True, kw_only=True, eq=False)
class CommonStretch:
    """Both powers from the first to the last second that both recorded.

    ``first`` is the index of its first second in the arrays it was cut from. ``expected_w``, ``unit_w`` (n,) are 0
    where not ``present`` (n,), which says where both have a sample; ``reference_w`` (n,) is all that the reference
    shows through the unit's response, NaN where it has no sample. ``lacks`` is the slug of the reason why nothing can
    be said of the ride, empty if something can.
    """

    first: int
    reference_w: FloatArray
    expected_w: FloatArray
    unit_w: FloatArray
    present: BoolArray
    lacks: str

    @cached_property
    def ratio(self) -> float:
        """Unit over reference: ratio of sums."""
        return float(self.unit_w.sum() / self.expected_w.sum())

    @cached_property
    def error_w(self) -> FloatArray:
        """What the ratio leaves of the unit's power, (n,), 0 where not present; its sum is zero."""
        return self.unit_w - self.ratio * self.expected_w

    @cached_property
    def fit(self) -> FittedSeconds:
        """The fit to all common seconds."""
        return self.fit_of(self.present)

    @cached_property
    def left_over_w(self) -> FloatArray:
        """What the fit to all common seconds leaves of the unit's power, (n,), 0 where not present."""
        left_over = np.zeros(self.present.size)
        left_over[self.fit.at] = self.fit.error
        return left_over

    @cached_property
    def run(self) -> LongRun:
        """How the error wanders along the ride."""
        wander = fit_wander(self.left_over_w, self.expected_w, self.present)
        return long_run(wander, self.fit, sample_density(self.present))

    def fit_of(self, mask: BoolArray) -> FittedSeconds:
        """Fit the unit's power to the reference's over the seconds in ``mask`` (n,): a gain, and a zero if it shows.

        A zero error makes the bias go with power, so that the rider's efforts write a pattern into what a ratio alone
        leaves over. The bias of this ride, with these efforts, is no less sure for it: the pattern is fitted and taken
        out, where the power (a 30 s mean, which the noise of single seconds cannot bend) varies enough to tell.
        """
        at = np.flatnonzero(mask)
        expected_w, power_w = self.expected_w[at], self.band_power_w[at]
        known = np.isfinite(power_w)
        mean_w = float(power_w[known].mean()) if known.any() else 0.0
        about_mean_w = np.where(known, power_w - mean_w, 0.0)
        ones = np.ones(at.size)
        tells = at.size >= LEAST_SAMPLES_FOR_ZERO and float(np.std(about_mean_w)) > LEAST_SPREAD_FOR_ZERO * mean_w
        instruments = np.vstack([ones, about_mean_w]) if tells else ones[None, :]
        regressors = np.vstack([expected_w, (expected_w > 0).astype(np.float64)]) if tells else expected_w[None, :]
        return fit_seconds(at, instruments, regressors, self.unit_w[at], expected_w)

    @cached_property
    def band_power_w(self) -> FloatArray:
        """The power by which a second enters a band, (n,), on the reference's scale; NaN beside gaps.

        30 s centred means of both meters, the unit scaled to the reference's mean. Choosing
        seconds by the reference alone would find those on which it errs upwards in the upper of two bands, and make
        the unit look low there; choosing by the unit alone the reverse. Weighted as ``_unit_weight`` says, the choice
        does not lean to either. A unit at fault must not move a second to another band: its pull is bounded.
        """
        entered = centred_mean(self.reference_w, 30)
        if not self.ratio > 0:
            return entered
        expected, unit = (
            centred_mean(np.where(self.present, power, np.nan), 30) for power in (self.expected_w, self.unit_w)
        )
        bound = UNIT_PULL * np.abs(expected)
        apart = np.clip(unit / self.ratio - expected, -bound, bound)
        return entered + np.where(np.isfinite(apart), _unit_weight(expected, apart) * apart, 0.0)


def _unit_weight(expected_w: FloatArray, apart_w: FloatArray) -> float:
    """Weight, 0 to 1, of the unit in a mean of both that is uncorrelated with how far they are ``apart_w``.

    It is the share of the reference in the variance of their difference: 1 where only the reference errs. Both
    variances follow from two meters (Grubbs 1948, J. Am. Stat. Assoc. 43:243-264), here from changes of 30 s means
    over the minute where the effort held, since its own changes drown them. A half where there is too little of that.
    """
    change_w, parting_w = (values[60:] - values[:-60] for values in (expected_w, apart_w))
    middle_w = np.abs(change_w + parting_w / 2)
    held = middle_w < HELD_SHARE * np.abs(expected_w[60:])
    spread = float(np.sum(parting_w[held] ** 2))
    if np.count_nonzero(held) < LEAST_HELD_SECONDS or spread <= 0:
        return 0.5
    return float(np.clip(-np.sum(change_w[held] * parting_w[held]) / spread, 0.0, 1.0))


def common_stretch(expected_w: FloatArray, unit_w: FloatArray) -> CommonStretch:
    """Cut the two powers (n,), NaN where missing, to the stretch both recorded."""
    present = np.isfinite(expected_w) & np.isfinite(unit_w)
    at = np.flatnonzero(present)
    if at.size == 0:
        nothing = np.zeros(0)
        return CommonStretch(
            first=0,
            reference_w=nothing,
            expected_w=nothing,
            unit_w=nothing,
            present=np.zeros(0, dtype=bool),
            lacks="no_common_seconds",
        )
    cut = slice(int(at[0]), int(at[-1]) + 1)
    present = present[cut]
    expected, unit = (np.where(present, power[cut], 0.0) for power in (expected_w, unit_w))
    lacks = ""
    if at.size < LEAST_SAMPLES or present.size < LEAST_SPAN_S:
        lacks = "too_short"
    elif expected.sum() < LEAST_MEAN_W * at.size:
        lacks = "no_power_by_reference"
    return CommonStretch(
        first=cut.start,
        reference_w=expected_w[cut],
        expected_w=expected,
        unit_w=unit,
        present=present,
        lacks=lacks,
    )


def piece_bias(stretch: CommonStretch, mask: BoolArray, *, least_seconds: int, slug: str, level: float) -> Estimate:
    """Return the bias over the seconds in ``mask`` (n,), a part of those present.

    Not assessed for the stretch's own reason; with slug ``slug`` where it holds fewer than ``least_seconds`` (of spot
    readings, as many as usually stand for them, but ten); with ``too_little_power`` where the reference showed next to
    none.
    """
    if stretch.lacks:
        return Estimate.missing(stretch.lacks, "%", level)
    seconds = int(mask.sum())
    if seconds < max(least_seconds * stretch.run.density, LEAST_PIECE_SAMPLES):
        return Estimate.missing(slug, "%", level)
    total_w = float(stretch.expected_w[mask].sum())
    if total_w < LEAST_PIECE_MEAN_W * seconds:
        return Estimate.missing("too_little_power", "%", level)
    ratio = float(stretch.unit_w[mask].sum()) / total_w
    return percent(ratio, ratio_half_width(stretch, stretch.fit_of(mask), level), level)


def ratio_half_width(stretch: CommonStretch, fit: FittedSeconds, level: float) -> float:
    """Half-width of the interval of the ratio of sums over the seconds of ``fit``."""
    return half_width(stretch.run, fit, np.ones(fit.at.size) / float(fit.scale.sum()), level)


def percent(ratio: float, half_width: float, level: float) -> Estimate:
    """A ratio and the half-width of its interval as a bias in percent; no meter reads more than 100 % low."""
    value, half = 100 * (ratio - 1), 100 * half_width
    low = max(value - half, min(-100.0, value))
    return Estimate(value=value, low=low, high=value + half, unit="%", level=level)


def mean_powers(stretch: CommonStretch, mask: BoolArray) -> tuple[int, float, float]:
    """Seconds in ``mask`` and both mean powers over them, W; NaN if there are none."""
    seconds = int(mask.sum())
    if seconds == 0:
        return 0, float("nan"), float("nan")
    return seconds, float(stretch.expected_w[mask].mean()), float(stretch.unit_w[mask].mean())
