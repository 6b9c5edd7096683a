"""The heart's account: what it should have done in and after the stretch if the unit is right, and if the reference is.

Each account drives the fitted heart with one meter's power. What was measured is held against both at once, over the
stretch and the minutes after it, given all that was measured around it: its errors follow one another, and the heart is
known only as well as the rest of the ride taught it. The likelihood is Student's t in as many dimensions as there are
blocks, so that two accounts that are both far off do not seem to differ.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.faults.witnesses.ground import Ground, Stretch
from wattwitness.faults.witnesses.heard import SPEAKS, Heard, Listener, capped, supported
from wattwitness.faults.witnesses.heart_fit import HeartFit, at_blocks, fit_heart
from wattwitness.faults.witnesses.heart_response import TICK_S, followed
from wattwitness.faults.witnesses.words import to_one
from wattwitness.model.anatomy import MeterSide
from wattwitness.model.arrays import BoolArray, FloatArray, IntArray
from wattwitness.model.episodes import Finding, HeartAccounts, Witness, WitnessKind
from wattwitness.model.estimate import Estimate
from wattwitness.model.recording import ChannelName

NAME = "heart_rate"

BEFORE_S, AFTER_S = 60, 240
"""A heart is shown from so long before a stretch, and asked until so long after it."""

NEAR_S = 900
"""What was measured this far away still says how the heart strays in the stretch."""

STILL_DISPUTED_S = 180
WINDOW_S = 5400
"""Longer rides are fitted in pieces of this length, each starting half of it after the one before."""

DEGREES = 6.0
MODEL_ERROR = 1.25
"""Errors are taken so much wider than the fit leaves them: no heart follows two time constants exactly."""

LEAST_LEARNT_S = 450
"""Less of the ride outside the episodes, and their aftermath, teaches nothing of a heart."""

LEAST_APART_BPM = 3.0
"""... and somewhere so many beats: hearts do what no model of them holds."""

MOST_LOG_ODDS = 4.6
"""Natural logarithm of 100 to 1."""

LEAST_APART = 2.0
"""Both accounts have to lie so many standard deviations apart, all blocks together, before the heart can tell."""


class Heart:
    """The hearts of a ride's windows, each fitted when first asked for."""

    def __init__(self, ground: Ground) -> None:
        """Nothing is fitted yet."""
        self.ground = ground
        self.recorded_by = ""
        self._fits: dict[int, HeartFit | None] = {}
        self._power_w = driving_power(ground)

    @property
    def power_w(self) -> FloatArray:
        """Power as the reference shows it, gaps filled, (n,)."""
        return self._power_w

    def fit_at(self, second: int) -> HeartFit | None:
        """The heart in the window around ``second``."""
        size = self._power_w.size
        last = max((size - WINDOW_S // 2) // (WINDOW_S // 2), 0)
        window = 0 if size <= WINDOW_S else min(max(round(second / (WINDOW_S / 2) - 1), 0), last)
        if window not in self._fits:
            self._fits[window] = self._fit(window * (WINDOW_S // 2))
        return self._fits[window]

    def _fit(self, begins_s: int) -> HeartFit | None:
        cut = slice(begins_s, begins_s + WINDOW_S)
        usable = ~_disputed(self.ground.outside)[cut]
        best: HeartFit | None = None
        seen: list[FloatArray] = []
        for _, shown, values in self.ground.ride.channels(ChannelName.HEART_RATE):
            if any(_same(values[cut], other) for other in seen):
                continue
            seen.append(values[cut])
            fit = fit_heart(values[cut], self._power_w[cut], usable, begins_s)
            if fit is not None and (best is None or fit.sd_bpm < best.sd_bpm):
                best, self.recorded_by = fit, shown
        return best


def driving_power(ground: Ground) -> FloatArray:
    """Power by the reference, (n,); where it has none by the unit, and else along a straight line."""
    prompt = ground.ride.pair.reference.get(ChannelName.POWER, ground.by_reference_w)
    power = np.where(np.isfinite(prompt), prompt, ground.by_unit_w)
    known = np.flatnonzero(np.isfinite(power))
    if known.size == 0:
        return np.zeros(power.size)
    return np.asarray(np.interp(np.arange(power.size), known, power[known]))


def listener(ground: Ground) -> Listener:
    """One that fits the heart when first asked."""
    kept: list[Heart] = []

    def hear_stretch(stretch: Stretch) -> Heard | None:
        if not kept:
            kept.append(Heart(ground))
        return hear(kept[0], stretch)

    return hear_stretch


def hear(heart: Heart, stretch: Stretch) -> Heard | None:
    """What the heart says of one stretch; ``None`` where no heart rate was recorded."""
    ground = heart.ground
    recorded = list(ground.ride.channels(ChannelName.HEART_RATE))
    if not recorded:
        return None
    fit = heart.fit_at((stretch.first + stretch.stop) // 2)
    if fit is None:
        return _silent(recorded[0][1], _why_not_learnt(ground, recorded))
    both = _accounts(heart, fit, stretch)
    if both is None:
        return _silent(heart.recorded_by, "Heart rate is missing in and after this stretch, or one meter is.")
    return both


def _why_not_learnt(ground: Ground, recorded: list[tuple[MeterSide, str, FloatArray]]) -> str:
    """Whether the heart rate is wanting, or the ride outside the episodes is."""
    fullest = max((values for _, _, values in recorded), key=lambda values: int(np.isfinite(values).sum()))
    held = np.isfinite(fullest)
    learnt_from = fullest[held & ~_disputed(ground.outside)]
    if held.sum() >= LEAST_LEARNT_S > learnt_from.size:
        return (
            "Heart rate was recorded, but too little of the ride lies outside the episodes and the minutes after them "
            "to learn this heart from."
        )
    return "Outside the episodes there is too little heart rate, or too little change in it, to learn this heart from."


def _silent(recorded_by: str, says: str) -> Heard:
    nothing = Estimate.missing("no_account", "bpm")
    return Heard(
        witness=Witness(
            kind=WitnessKind.HEART_RATE,
            recorded_by=recorded_by,
            change=nothing,
            expected_if_unit_right=nothing,
            expected_if_reference_right=nothing,
            log_odds=0.0,
            supports=Finding.UNDETERMINED,
            says=says,
        ),
        accounts=None,
    )


def _accounts(heart: Heart, fit: HeartFit, stretch: Stretch) -> Heard | None:
    """Both accounts over the blocks of the stretch and after it, and what was measured held against them."""
    first, stop = stretch.first - fit.begins_s, stretch.stop - fit.begins_s
    asked = np.arange(first // fit.block_s, min((stop + AFTER_S) // fit.block_s, fit.bpm.size))
    asked = asked[np.isfinite(fit.bpm[asked])]
    if asked.size < 2:
        return None
    by_unit = _power_by_unit(heart, fit, stretch)
    if by_unit is None:
        return None
    tick = max(first // TICK_S - 2, 0)
    start = fit.state[tick - 1] if tick else None
    unit_state = followed(by_unit, fit.responses, tick, start)
    near = _near(fit, asked)
    if near.size < 3:
        return None
    reference = _foretold(fit, asked, near, at_blocks(fit.state, asked, fit.block_s))
    unit = _foretold(fit, asked, near, at_blocks(unit_state, asked, fit.block_s, tick))
    log_odds, apart = _weigh(fit, asked, reference, unit)
    return _said(heart, fit, stretch, asked, reference, unit, log_odds, apart)


def _power_by_unit(heart: Heart, fit: HeartFit, stretch: Stretch) -> FloatArray | None:
    """The driving power with the unit's in the stretch; ``None`` where either meter has none there."""
    ground, smear = heart.ground, heart.ground.smear_s
    first, stop = max(stretch.first - smear, 0), min(stretch.stop + smear, ground.outside.size)
    by_unit, by_reference = ground.by_unit_w[first:stop], ground.by_reference_w[first:stop]
    if min(np.isfinite(by_unit).sum(), np.isfinite(by_reference).sum()) < (stop - first) / 2:
        return None
    power = heart.power_w.copy()
    known = np.flatnonzero(np.isfinite(by_unit))
    power[first:stop] = np.interp(np.arange(stop - first), known, by_unit[known])
    return power[fit.begins_s : fit.begins_s + fit.power_w.size]


def _near(fit: HeartFit, asked: IntArray) -> IntArray:
    """Blocks fitted to, near the asked ones and none of them."""
    reach = NEAR_S // fit.block_s
    at = np.flatnonzero(fit.known)
    at = at[(at >= asked[0] - reach) & (at <= asked[-1] + reach)]
    return np.asarray(at[~np.isin(at, asked)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Foretold:
    """One account: mean (g, k) and covariance (g, k, k) of heart rate at k blocks under each of g responses."""

    mean: FloatArray
    covariance: FloatArray


def _foretold(fit: HeartFit, asked: IntArray, near: IntArray, state: FloatArray) -> _Foretold:
    """Heart rate at ``asked`` given what was measured ``near``: kriging with the uncertainty of every coefficient."""
    there, here = fit.columns(asked, state), fit.columns(near, at_blocks(fit.state, near, fit.block_s))
    spread = fit.sd_bpm**2 * MODEL_ERROR**2
    among = fit.correlation(near, near)
    across = np.linalg.solve(among, fit.correlation(near, asked)).T
    given = spread * (fit.correlation(asked, asked) - across @ fit.correlation(near, asked))
    strays = fit.bpm[near] - np.einsum("gki,gi->gk", here, fit.coefficients)
    mean = np.einsum("gki,gi->gk", there, fit.coefficients) + strays @ across.T
    moved = there - np.einsum("kn,gni->gki", across, here)
    covariance = given + np.einsum("gki,gij,glj->gkl", moved, fit.covariance * MODEL_ERROR**2, moved)
    return _Foretold(mean=mean, covariance=covariance)


def _weigh(fit: HeartFit, asked: IntArray, reference: _Foretold, unit: _Foretold) -> tuple[float, float]:
    """Log odds for the reference's account, and how many standard deviations the accounts lie apart."""
    likely = [_log_likelihood(fit.bpm[asked], account, fit.weight) for account in (reference, unit)]
    difference = np.einsum("g,gk->k", fit.weight, reference.mean - unit.mean)
    spreads = []
    for account in (reference, unit):
        middle = np.einsum("g,gk->k", fit.weight, account.mean)
        between = account.mean - middle
        covariance = np.einsum("g,gkl->kl", fit.weight, account.covariance)
        spreads.append(covariance + np.einsum("g,gk,gl->kl", fit.weight, between, between))
    apart = float(difference @ np.linalg.solve((spreads[0] + spreads[1]) / 2, difference))
    return likely[0] - likely[1], float(np.sqrt(max(apart, 0.0)))


def _log_likelihood(measured: FloatArray, account: _Foretold, weight: FloatArray) -> float:
    """Logarithm of the mixture over responses of multivariate t densities, up to a constant."""
    lower = np.linalg.cholesky(account.covariance)
    white = np.linalg.solve(lower, (measured - account.mean)[:, :, None])[:, :, 0]
    size = measured.size
    log_det = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    density = -log_det - 0.5 * (DEGREES + size) * np.log1p(np.sum(white * white, axis=1) / DEGREES)
    top = float(density.max())
    return top + float(np.log(np.sum(weight * np.exp(density - top))))


def _said(
    heart: Heart,
    fit: HeartFit,
    stretch: Stretch,
    asked: IntArray,
    reference: _Foretold,
    unit: _Foretold,
    log_odds: float,
    apart: float,
) -> Heard:
    """The witness: changes from just before the stretch to where the accounts lie furthest apart."""
    means = [np.einsum("g,gk->k", fit.weight, account.mean) for account in (unit, reference)]
    place = int(np.argmax(np.abs(means[0] - means[1])))
    before = fit.bpm[max(asked[0] - 30 // fit.block_s, 0) : asked[0]]
    before = before[np.isfinite(before)]
    base = float(before.mean()) if before.size else float(means[1][0])
    by_unit, by_reference = (
        _change(means[which][place] - base, account, place, fit.weight)
        for which, account in enumerate((unit, reference))
    )
    measured = float(fit.bpm[asked[place]]) - base
    error = 2.0 * fit.sd_bpm * float(np.sqrt(2.0 * min(10.0 / fit.quick_tau_s, 1.0)))
    tells = apart >= LEAST_APART and abs(float(means[0][place] - means[1][place])) >= LEAST_APART_BPM
    odds = capped(log_odds, MOST_LOG_ODDS) if tells else 0.0
    names = heart.ground.ride.unit_name, heart.ground.ride.reference_name
    if not tells:
        says = (
            "Too short or too small to tell by heart rate: by either account it would have moved alike within what a "
            f"heart strays ({means[0][place] - base:+.0f} against {means[1][place] - base:+.0f} bpm)."
        )
    else:
        after_s = int((asked[place] + 0.5) * fit.block_s) + fit.begins_s - stretch.first
        verdict = (
            f"{to_one(odds)} for {names[1] if odds > 0 else names[0]}" if abs(odds) >= SPEAKS else "it cannot tell"
        )
        says = (
            f"{after_s} s after the onset heart rate had changed by {measured:+.0f} bpm; by the effort that {names[0]} "
            f"shows it would have by {by_unit.value:+.0f} bpm, by that of {names[1]} by {by_reference.value:+.0f} bpm: "
            f"{verdict}."
        )
    return Heard(
        witness=Witness(
            kind=WitnessKind.HEART_RATE,
            recorded_by=heart.recorded_by,
            change=Estimate(value=measured, low=measured - error, high=measured + error, unit="bpm"),
            expected_if_unit_right=by_unit,
            expected_if_reference_right=by_reference,
            log_odds=odds,
            supports=supported(odds),
            says=says.replace("-", "−"),
        ),
        accounts=_for_the_figure(heart, fit, stretch, asked, means),
    )


def _change(value: float, account: _Foretold, place: int, weight: FloatArray) -> Estimate:
    """A foretold change with its interval, over all responses."""
    between = account.mean[:, place] - float(weight @ account.mean[:, place])
    variance = float(weight @ (account.covariance[:, place, place] + between * between))
    reach = 1.96 * float(np.sqrt(variance))
    value = float(value)
    return Estimate(value=value, low=value - reach, high=value + reach, unit="bpm")


def _for_the_figure(
    heart: Heart, fit: HeartFit, stretch: Stretch, asked: IntArray, means: list[FloatArray]
) -> HeartAccounts:
    """Second by second from a minute before; before the stretch both accounts are what was measured, smoothed."""
    size = heart.ground.outside.size
    seconds = np.arange(max(stretch.first - BEFORE_S, 0), min(stretch.stop + AFTER_S, size))
    at_s = (asked + 0.5) * fit.block_s + fit.begins_s
    earlier = np.arange(max(asked[0] - BEFORE_S // fit.block_s - 1, 0), asked[0])
    earlier = earlier[np.isfinite(fit.bpm[earlier])]
    values = {shown: held for _, shown, held in heart.ground.ride.channels(ChannelName.HEART_RATE)}
    shown = [
        np.interp(
            seconds,
            np.concatenate([(earlier + 0.5) * fit.block_s + fit.begins_s, at_s]),
            np.concatenate([fit.bpm[earlier], mean]),
            right=np.nan,
        )
        for mean in means
    ]
    return HeartAccounts(
        time_s=seconds.astype(np.float64),
        measured_bpm=values[heart.recorded_by][seconds],
        if_unit_right_bpm=shown[0],
        if_reference_right_bpm=shown[1],
    )


def _disputed(outside: BoolArray) -> BoolArray:
    """Seconds in candidates, and after them for as long as the heart remembers them, (n,)."""
    inside = ~outside
    edges = np.diff(np.concatenate([[0], inside.astype(np.int64), [0]]))
    disputed = inside.copy()
    for begin, end in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
        disputed[end : end + min(STILL_DISPUTED_S, 3 * int(end - begin))] = True
    return disputed


def _same(one: FloatArray, other: FloatArray) -> bool:
    """Whether two channels are the same sensor: nowhere more than 1 bpm apart but now and then."""
    both = np.isfinite(one) & np.isfinite(other)
    return bool(both.sum() > 60 and np.mean(np.abs(one[both] - other[both]) <= 1.0) > 0.95)
