"""Patterns in the episodes of a ride, and of many: when they begin, what precedes them, what kind of loss they are.

Each question is put to chance: how likely is at least so much of a pattern if episodes fell anywhere? With too few it
says so and names no probability. Asked are the episodes found to be the unit's, and those that could not be told.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from wattwitness.faults.chance import (
    crowding_by_chance,
    evenness_by_chance,
    mean_of_uniforms,
    narrowest_window,
    slope_by_chance,
)
from wattwitness.model.arrays import FloatArray
from wattwitness.model.episodes import Episode, EpisodeKind, Finding, Pattern
from wattwitness.model.recording import ChannelName
from wattwitness.stats.quantiles import chi_square_quantiles, student_quantile

ASKED = (Finding.UNIT, Finding.UNDETERMINED)
LEAST = 4
"""With fewer episodes nothing but their number is said."""

LEAST_FOR_LAW = 5
LEAST_POWER_SPREAD = 0.10
"""Whether a depth is a factor or an offset shows only where the powers before differ: in the logarithm, standard
deviation."""

FILLS = 0.9
"""An episode of so much of the ride is the ride."""

FIRM = 0.01
"""Several questions are put at once: a pattern is named from here on, one in a hundred by chance for each question."""

WORDS = {
    ChannelName.POWER: ("power", "higher", "lower"),
    ChannelName.CADENCE: ("cadence", "higher", "lower"),
    ChannelName.TEMPERATURE: ("temperature", "higher", "lower"),
    ChannelName.RESISTANCE: ("resistance", "higher", "lower"),
}

RideEpisodes = tuple[Sequence[Episode], float]
"""The episodes of one ride, and how many hours both meters recorded."""


def patterns(episodes: Sequence[Episode], hours: float) -> tuple[Pattern, ...]:
    """Patterns within one ride of ``hours``; none where one fault fills most of it: then nothing comes and goes."""
    if any(one.finding in ASKED and one.duration_s > FILLS * 3600.0 * hours for one in episodes):
        return ()
    return patterns_over_rides([(episodes, hours)])


def patterns_over_rides(rides: Sequence[RideEpisodes]) -> tuple[Pattern, ...]:
    """Patterns over many rides of one unit. Empty where no episode was the unit's or undetermined."""
    asked = [
        ([one for one in episodes if one.finding in ASKED and one.kind is not EpisodeKind.CLOCK_JUMP], hours)
        for episodes, hours in rides
    ]
    together = [one for episodes, _ in asked for one in episodes]
    if not together:
        return ()
    found = [_rate(len(together), sum(hours for _, hours in rides))]
    if len(together) < LEAST:
        return (
            *found,
            _too_few("when_they_begin", f"when they begin, and what precedes them: they number {len(together)}"),
        )
    found += [_when(asked), *_evenly(asked), *_before(together)]
    law = _law([one for one in together if one.kind in (EpisodeKind.DROP, EpisodeKind.SURGE)])
    return (*found, law)


def _rate(count: int, hours: float) -> Pattern:
    """Episodes an hour with the exact interval of a Poisson rate (Garwood 1936, Biometrika 28:437; from memory)."""
    noun = "episode" if count == 1 else "episodes"
    if not hours > 0:
        return Pattern(name="how_often", says=f"{count} {noun}.", chance=None)
    low = chi_square_quantiles(0.95, 2 * count)[0] / 2 / hours
    high = chi_square_quantiles(0.95, 2 * count + 2)[1] / 2 / hours
    return Pattern(
        name="how_often",
        says=f"{count} {noun} in {hours:.1f} h: {count / hours:.2g} an hour ({low:.2g} to {high:.2g}, if they come "
        "independently).",
        chance=None,
    )


def _when(rides: Sequence[tuple[list[Episode], float]]) -> Pattern:
    """Whether onsets crowd at the same minutes of their rides."""
    minutes = np.array([one.start_s / 60.0 for episodes, _ in rides for one in episodes])
    lengths = np.array([max(hours * 60.0, one.start_s / 60.0) for episodes, hours in rides for one in episodes])
    chance = crowding_by_chance(minutes, lengths)
    low, middle, high = np.quantile(minutes, [0.0, 0.5, 1.0])
    width = float(narrowest_window(np.sort(minutes)))
    says = f"They begin between minutes {low:.0f} and {high:.0f}, half of them before minute {middle:.0f}"
    more = f"three quarters lie within {width:.0f} min of each other"
    return Pattern(name="when_they_begin", says=f"{says}; {more}: {_judged(chance)}.", chance=chance)


def _evenly(rides: Sequence[tuple[list[Episode], float]]) -> list[Pattern]:
    """Whether they recur at equal intervals within a ride; none where no ride holds four."""
    long = [
        (np.sort([one.start_s for one in episodes]), hours * 3600.0) for episodes, hours in rides if len(episodes) >= 4
    ]
    if not long:
        return [_too_few("equal_intervals", "whether they recur at equal intervals: no ride holds four")]
    chance = evenness_by_chance([onsets for onsets, _ in long], [max(length, onsets[-1]) for onsets, length in long])
    gaps = np.concatenate([np.diff(onsets) for onsets, _ in long]) / 60.0
    says = f"From one onset to the next pass {np.median(gaps):.0f} min ({gaps.min():.0f} to {gaps.max():.0f})"
    judged = _judged(chance, yes="more evenly spaced than chance has it")
    return [Pattern(name="equal_intervals", says=f"{says}: {judged}.", chance=chance)]


def _before(episodes: Sequence[Episode]) -> list[Pattern]:
    """Whether the minute before stands out among the ride's minutes, for each channel that was ranked."""
    found = []
    for name, (noun, more, less) in WORDS.items():
        ranks = [rank for one in episodes for channel, rank in one.before_ranks if channel is name]
        if not ranks:
            continue
        if len(ranks) < LEAST:
            found.append(_too_few(f"{noun}_before", f"what {noun} precedes them: {len(ranks)} could be ranked"))
            continue
        chance = mean_of_uniforms(ranks)
        mean = sum(ranks) / len(ranks)
        says = (
            f"In the minute before them {noun} was {more if mean > 0.5 else less} than in "
            f"{100 * max(mean, 1 - mean):.0f} % of the ride's minutes, on average"
        )
        found.append(Pattern(name=f"{noun}_before", says=f"{says}: {_judged(chance)}.", chance=chance))
    return found


def _law(episodes: Sequence[Episode]) -> Pattern:
    """A constant factor, a constant offset in W, or neither: how depth goes with the power before.

    In logarithms a factor has slope 0 and an offset slope -1; the interval of the slope is that of a straight line.
    """
    pairs = [
        (one.before_w, abs(one.depth_pct.value))
        for one in episodes
        if one.before_w is not None and one.before_w > 30 and one.depth_pct.value
    ]
    name = "factor_or_offset"
    if len(pairs) < LEAST_FOR_LAW:
        return _too_few(name, f"whether the loss is a share of power or a number of watts: {len(pairs)} tell")
    power, depth = (np.log(np.array(column)) for column in zip(*pairs, strict=True))
    if float(np.std(power)) < LEAST_POWER_SPREAD:
        return _too_few(
            name, "whether the loss is a share of power or a number of watts: all began at much the same power"
        )
    slope, half = _slope(power, depth)
    factor, offset = (abs(slope - law) <= half for law in (0.0, -1.0))
    percent = np.exp(depth)
    watts = np.exp(power + depth) / 100.0
    said = {
        (True, False): f"The loss is a share of power, {np.median(percent):.0f} %, not a number of watts",
        (False, True): f"The loss is a number of watts, about {np.median(watts):.0f} W, not a share of power",
        (True, True): "The loss may be a share of power or a number of watts",
        (False, False): "The loss is neither one share of power nor one number of watts",
    }[(factor, offset)]
    says = (
        f"{said}: a power one tenth higher goes with a depth {_tenth(slope - half)} to {_tenth(slope + half)} % larger."
    )
    return Pattern(name=name, says=says, chance=slope_by_chance(power, depth))


def _slope(x: FloatArray, y: FloatArray) -> tuple[float, float]:
    """Slope of ``y`` on ``x`` (k,) and half of its 95 % interval."""
    from_x = x - x.mean()
    slope = float(from_x @ y / (from_x @ from_x))
    left = y - y.mean() - slope * from_x
    error = math.sqrt(float(left @ left) / (x.size - 2) / float(from_x @ from_x))
    return slope, student_quantile(0.95, x.size - 2) * max(error, 1e-6)


def _tenth(slope: float) -> str:
    return f"{100 * (1.1**slope - 1):+.1f}".replace("-", "−")


def _judged(chance: float, yes: str = "a pattern") -> str:
    if chance < FIRM:
        return f"{yes}; chance does as much in {_percent(chance)} of rides like these"
    return f"no more than chance may do ({_percent(chance)})"


def _percent(chance: float) -> str:
    return "less than 0.1 %" if chance < 0.001 else f"{100 * chance:.1f} %" if chance < 0.1 else f"{100 * chance:.0f} %"


def _too_few(name: str, what: str) -> Pattern:
    return Pattern(name=name, says=f"Too few episodes to tell {what}.", chance=None)
