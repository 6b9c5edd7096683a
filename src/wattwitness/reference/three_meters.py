"""Three or more meters on one ride: each one's own error, with nobody taken as true.

The variance of the difference of two meters is the sum of their own error variances if their errors are independent;
with three meters there are three such differences and three unknowns (Grubbs FE 1948, J. Am. Stat. Assoc. 43:243-264,
and 1973, Technometrics 15:53-66). Here it is done frequency by frequency, since errors that wander are far from
independent from second to second: in each band of frequencies the cosine coefficients of the differences are a sample
from one covariance matrix, and drawing matrices that agree with it (inverse Wishart) carries what the band leaves
unknown into the answer. What the ride holds few independent pieces of comes out wide by itself.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wattwitness.clock.kernels import convolve_present, kernel_lag_s
from wattwitness.model.arrays import BoolArray, FloatArray, frozen_floats
from wattwitness.model.estimate import Estimate
from wattwitness.model.three_meters import MeterOwnError, OwnSpread
from wattwitness.reference.between_samples import believed_cuts, one_moment, traces_of_effort
from wattwitness.reference.difference_bands import (
    DifferenceSpectra,
    bands_for,
    difference_products,
    own_variances,
)

AVERAGING_S = (1, 10, 30)
LEAST_W = 60.0
"""Below this a percentage says little of a meter."""

LEAST_SECONDS = 300
LINE_REACH = 3
"""Seconds to either side over which the smoothing of straight lines between samples is copied: more would copy it
better, and cost more seconds beside every gap."""

LEAST_SINCE_S = 0.02
WHOLE = 1 - 1e-6
TRACES = (1.5, 1.0, 0.4)
"""So much of the expected traces of the effort is taken off a meter's own variance: at most, as most likely, at least.
What is carried on beyond what is seen holds to about a third."""

RESOLVED = 0.3
"""A band counts as seen where the others' responses leave this share of its power."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenMeter:
    """A meter on the common grid: ``power_w`` (n,), one value a second, NaN where missing.

    ``kernel`` is its response relative to the promptest of the meters, newest first, sum 1; ``lag_s`` how late it
    shows an effort on the grid, its kernel's own lag included. ``since_s`` says how its samples, a second apart, were
    put on the grid by straight lines: how long before each grid second the sample before it stands; 0 where none were
    drawn.
    """

    name: str
    recording: int
    power_w: FloatArray
    kernel: FloatArray
    lag_s: float = 0.0
    since_s: float = 0.0

    def __post_init__(self) -> None:
        """Copy and freeze the arrays."""
        for name in ("power_w", "kernel"):
            object.__setattr__(self, name, frozen_floats(getattr(self, name)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Together:
    """All meters as seen through one another's responses, over the seconds that count.

    ``relative`` (m, n) and ``absolute_w`` (m, n): each meter scaled to the mean of all, less that mean, over it and in
    W. ``passed`` (m, f) is the power gain of what was done to each meter, at ``frequency`` (f,) = k / 2n.
    ``traces`` (m, n) is what of ``relative``'s own variances is expected to be the effort's (``between_samples``);
    ``None`` where all were sampled at the same part of a second.
    """

    relative: FloatArray
    absolute_w: FloatArray
    mean_w: float
    passed: FloatArray
    own_response: FloatArray
    traces: FloatArray | None = None

    @property
    def seconds(self) -> int:
        """How many seconds count."""
        return int(self.relative.shape[1])


def seen_together(meters: Sequence[SeenMeter]) -> Together:
    """Bring three or more meters to one response and one timing, and cut to seconds of more than ``LEAST_W``.

    Each is passed through the kernels of all the others, so that every one carries all: exact for any family of
    responses, and no more than the slowest where the rest are prompt. The earlier are delayed to the latest. What
    straight lines between samples and delays by a fraction of a second smooth of one is smoothed of the others as well.
    """
    others = [[other for other in meters if other is not meter] for meter in meters]
    lags = [
        meter.lag_s + sum(kernel_lag_s(other.kernel) for other in rest)
        for meter, rest in zip(meters, others, strict=True)
    ]
    delays = [_worth_moving(max(lags) - lag) for lag in lags]
    drawn = [_drawn_lines(meter.since_s, delay % 1) for meter, delay in zip(meters, delays, strict=True)]
    made = [_product([other.kernel for other in rest]) for rest in others]
    for one, line in enumerate(drawn):
        # The others are smoothed alike; the meter itself waits for as long as that takes.
        middle_only = np.eye(1, line.size, line.size // 2)[0]
        for two in range(len(meters)):
            made[two] = np.convolve(made[two], middle_only if two == one else line)
    powers = np.array(
        [_through(meter.power_w, kernel, delay) for meter, kernel, delay in zip(meters, made, delays, strict=True)]
    )
    counted = _counted(powers)
    powers = powers[:, counted]
    if counted.sum() == 0 or not np.all(powers.mean(axis=1) > 0):
        # None count, or one meter shows nothing in any of them: no mean to set it to the others' scale by.
        powers = powers[:, :0]
        return Together(relative=powers, absolute_w=powers, mean_w=math.nan, passed=powers, own_response=powers)
    scaled = powers * (powers.mean() / powers.mean(axis=1))[:, None]
    middle = scaled.mean(axis=0)
    count = powers.shape[1]
    turn = 1 - np.cos(np.pi * np.arange(count) / count)
    passed = [
        _power_gain(kernel, count) * _line_gain(meter.since_s, turn) * _line_gain(delay % 1, turn)
        for kernel, meter, delay in zip(made, meters, delays, strict=True)
    ]
    late_s = [meter.since_s + lag for meter, lag in zip(meters, lags, strict=True)]
    return Together(
        relative=scaled / middle - 1,
        mean_w=float(middle.mean()),
        absolute_w=scaled - middle,
        passed=np.array(passed),
        own_response=np.array([_power_gain(meter.kernel, count) for meter in meters]),
        traces=None if one_moment(late_s) else traces_of_effort(scaled, np.mean(passed, axis=0), late_s),
    )


def own_errors(
    meters: Sequence[SeenMeter],
    *,
    averaging_s: Sequence[int] = AVERAGING_S,
    level: float = 0.95,
    seed: int = 1,
) -> tuple[tuple[MeterOwnError, ...], int]:
    """Return each meter's own error by averaging time, and the seconds it rests on.

    ``meters`` are three or more. A constant bias of a meter is no part of its own error; what it does with power,
    cadence or time within the ride is. With fewer than ``LEAST_SECONDS`` nothing is assessed (``too_few_seconds``).
    """
    together = seen_together(meters)
    seconds = together.seconds
    if seconds < LEAST_SECONDS:
        missing = {unit: Estimate.missing("too_few_seconds", unit, level) for unit in ("%", "W")}
        nothing = tuple(
            OwnSpread(
                averaging_s=width_s,
                windows=seconds // width_s,
                variance_pct2=math.nan,
                variance_w2=math.nan,
                own_sd_pct=missing["%"],
                own_sd_w=missing["W"],
                resolved=math.nan,
                negative=False,
                contradicted=False,
            )
            for width_s in averaging_s
        )
        return tuple(
            MeterOwnError(name=item.name, recording=item.recording, spreads=nothing) for item in meters
        ), seconds
    scales = (100.0, together.mean_w)
    spectra = (_spectra(scales[0] * together.relative), _spectra(together.absolute_w))
    cuts = (seconds,) * len(meters)
    if together.traces is not None:
        cuts = believed_cuts(spectra[0], scales[0] ** 2 * together.traces, together.passed)
    known: dict[tuple[int, bytes], FloatArray] = {}

    def variances(which: int, weights: FloatArray, width_s: int) -> FloatArray:
        """Own variances of all meters; meters that nothing was done to share their weights, and so the draws."""
        key = (which, weights.tobytes())
        if key not in known:
            known[key] = own_variances(spectra[which], weights, np.random.default_rng([seed, width_s]))
        return known[key]

    found = []
    for place, meter in enumerate(meters):
        spreads = []
        for width_s in averaging_s:
            weights = _weights(together, place, width_s, cuts[place])
            drawn = [
                [
                    variances(which, weight, width_s)[:, place] - scales[which] ** 2 * trace
                    for weight, trace in zip(
                        (weights.likely, weights.least, weights.most), _traces(together, place, weights), strict=True
                    )
                ]
                for which in (0, 1)
            ]
            spreads.append(_spread(width_s, seconds, drawn, weights.resolved, level))
        found.append(MeterOwnError(name=meter.name, recording=meter.recording, spreads=tuple(spreads)))
    return tuple(found), seconds


def _spectra(deviations: FloatArray) -> DifferenceSpectra:
    products = difference_products(deviations)
    return DifferenceSpectra(products=products, starts=bands_for(products))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Weights:
    """What each coefficient (n,) adds to the variance of means: at least, as most likely, at most."""

    least: FloatArray
    likely: FloatArray
    most: FloatArray
    resolved: float


def _weights(together: Together, place: int, width_s: int, cut_at: int) -> _Weights:
    """Weights by coefficient of one meter's error spectrum in the variance of its means over ``width_s``.

    Where the others' responses leave a frequency, its power is divided by what they leave. Beyond that the error may be
    nothing more than was seen, may go on as flat as just below it before the meter's own response (as if it arose in
    the sensor), or as flat as that in what the meter shows (as if it arose behind). Where the meters were sampled at
    other parts of a second nothing is believed from coefficient ``cut_at`` on, and the error may be none there.
    """
    count = together.seconds
    amount = _power_gain(np.full(width_s, 1 / width_s), count) / count
    left, own = together.passed[place], together.own_response[place]
    unseen = np.flatnonzero(left < RESOLVED)
    cut = int(unseen[0]) if unseen.size else count
    cut = min(cut, cut_at)
    direct = np.where(np.arange(count) < cut, amount / np.maximum(left, RESOLVED), 0.0)
    if cut == count:
        return _Weights(least=direct, likely=direct, most=direct, resolved=1.0)
    beyond = amount[cut:]
    level_at = np.zeros(count)
    level_at[cut // 2 : cut] = 1 / left[cut // 2 : cut] / (cut - cut // 2)
    fading = np.minimum(own[cut:] / max(float(own[cut // 2 : cut].mean()), 1e-12), 1.0)
    return _Weights(
        least=direct + np.where(np.arange(count) < cut, 0.0, amount) * (cut_at == count),
        likely=direct + level_at * float(np.sum(beyond * fading)),
        most=direct + level_at * float(np.sum(beyond)),
        resolved=float(amount[:cut].sum() / amount.sum()),
    )


def _traces(together: Together, place: int, weights: _Weights) -> tuple[float, float, float]:
    """What the effort's traces add to one meter's variance as most likely, at its least and at its most."""
    if together.traces is None:
        return 0.0, 0.0, 0.0
    own = together.traces[place]
    likely, least, most = (float(own @ weight) for weight in (weights.likely, weights.least, weights.most))
    much, usual, little = TRACES
    return usual * likely, (much if least > 0 else little) * least, (little if most > 0 else much) * most


def _spread(
    width_s: int, seconds: int, drawn: Sequence[Sequence[FloatArray]], resolved: float, level: float
) -> OwnSpread:
    """One meter's own error at one averaging time, in percent and in W.

    ``drawn`` holds for each of the two the likely, least and most variance: as computed, then the draws, (1 + d,).
    """
    (own_pct, most), (own_w, _) = (_root(one, unit, level) for one, unit in zip(drawn, ("%", "W"), strict=True))
    variance_pct2, variance_w2 = (float(one[0][0]) for one in drawn)
    return OwnSpread(
        averaging_s=width_s,
        windows=seconds // width_s,
        variance_pct2=variance_pct2,
        variance_w2=variance_w2,
        own_sd_pct=own_pct,
        own_sd_w=own_w,
        resolved=resolved,
        negative=variance_pct2 < 0,
        contradicted=most < 0,
    )


def _root(drawn: Sequence[FloatArray], unit: str, level: float) -> tuple[Estimate, float]:
    """The root of a variance with its interval, and the upper end of the variance itself."""
    likely, least, most = drawn
    low = float(np.quantile(least[1:], 0.5 - level / 2))
    high = float(np.quantile(most[1:], 0.5 + level / 2))
    value = math.sqrt(max(float(likely[0]), 0.0))
    estimate = Estimate(
        value=value,
        low=min(math.sqrt(max(low, 0.0)), value),
        high=max(math.sqrt(max(high, 0.0)), value),
        unit=unit,
        level=level,
    )
    return estimate, high


def _drawn_lines(since_s: float, delay_s: float) -> FloatArray:
    """Kernel that smooths a meter sampled on the grid as another was that is sampled beside it, and delayed by a part
    of a second; an odd number of taps around the second itself.

    A line between samples that stand ``since_s`` before and 1 - ``since_s`` after does to an effort what this does, as
    far as samples a second apart can tell: the two weights, each at its distance, as windowed sinc. A delay by a
    fraction is the same the other way round.
    """
    kernel = np.ones(1)
    for part, turned in ((since_s, 1), (delay_s, -1)):
        if LEAST_SINCE_S < part < 1 - LEAST_SINCE_S:
            at = np.arange(-LINE_REACH, LINE_REACH + 1)
            taps = (1 - part) * np.sinc(at - part) + part * np.sinc(at + 1 - part)
            taps *= np.cos(np.pi * at / (2 * LINE_REACH + 2)) ** 2
            kernel = np.convolve(kernel, (taps / taps.sum())[::turned])
    return kernel


def _line_gain(since_s: float, turn: FloatArray) -> FloatArray:
    """Power gain of two samples with weights 1 - since and since; ``turn`` is 1 - cos of the phase of a second."""
    return np.asarray(1 - 2 * since_s * (1 - since_s) * turn)


def _through(power_w: FloatArray, kernel: FloatArray, delay_s: float) -> FloatArray:
    """A power through a kernel and a delay; NaN wherever any sample that it needs is missing.

    A kernel that shares its weight out over fewer samples is another kernel, and two meters would no longer match.
    """
    whole = convolve_present(np.isfinite(power_w).astype(np.float64), kernel, delay_s)
    whole[: kernel.size - 1 + math.ceil(delay_s)] = np.nan
    return np.where(whole > WHOLE, convolve_present(power_w, kernel, delay_s), np.nan)


def _counted(powers: FloatArray) -> BoolArray:
    """Seconds in which all meters show power, more than ``LEAST_W`` on the mean."""
    present = np.all(np.isfinite(powers), axis=0)
    middle = np.where(present, powers, 0.0).mean(axis=0)
    return np.asarray(present & (middle > LEAST_W))


def _product(kernels: Sequence[FloatArray]) -> FloatArray:
    result = np.ones(1)
    for kernel in kernels:
        result = np.convolve(result, kernel)
    return result


def _worth_moving(delay_s: float) -> float:
    """Delays of under a tenth of a second are left: moving by a fraction smooths more than it mends."""
    return delay_s if delay_s > 0.1 else 0.0


def _power_gain(kernel: FloatArray, count: int) -> FloatArray:
    """Squared amplitude that ``kernel`` leaves at the frequencies k / (2 count), k = 0..count - 1."""
    length = 2 * count
    if kernel.size > length:
        return np.zeros(count)
    return np.asarray(np.abs(np.fft.rfft(kernel, length)[:count]) ** 2, dtype=np.float64)
