"""One clock for two recordings: offset, drift and jumps, with what is known of each, or why there is none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from wattwitness.clock.answer import answered, unanswered
from wattwitness.clock.one_number import one_number_words
from wattwitness.clock.path import NO_LAG
from wattwitness.clock.pooling import pooled, with_usual_drift
from wattwitness.clock.reading import Reading, read
from wattwitness.clock.same_source import same_source
from wattwitness.clock.search import Search, search
from wattwitness.clock.segments import lags_along
from wattwitness.clock.verdict import CONCLUSIVE_S, Verdict, supports, verdict
from wattwitness.model.arrays import FloatArray
from wattwitness.model.clock import ClockFit, ClockStatus
from wattwitness.model.recording import ChannelName, Recording

CHANNELS = (ChannelName.CADENCE, ChannelName.POWER, ChannelName.HEART_RATE)
"""In the order in which they are believed: power displays lag, optical heart-rate sensors lag more."""

WORDS = {ChannelName.CADENCE: "cadence", ChannelName.POWER: "power", ChannelName.HEART_RATE: "heart rate"}

FARTHEST_DELAY_S = 15
"""Seconds by which power may follow cadence before the two contradict each other."""

COARSE_W = 20.0
"""Steps of power from here on leave little of an effort."""

SAMPLES_A_VALUE = 5


def fit_clock(reference: Recording, unit: Recording, *, level: float = 0.95) -> ClockFit:
    """Find how the unit's clock maps onto the reference's from the efforts both recorded.

    Nothing is assumed about the offset: time zones and clocks that were never set are found like any other.
    Channels are believed in the order cadence, power, heart rate, as far as they say anything.
    """
    shared = [name for name in CHANNELS if reference.has(name) and unit.has(name)]
    if not shared:
        reason = "The recordings have none of cadence, power and heart rate in common, so no clock can be found."
        return unanswered(reference, ClockStatus.NO_COMMON_EFFORT, None, reason, level)
    searches: dict[ChannelName, Search] = {
        name: search(reference, unit, name) for name in shared if name is not ChannelName.HEART_RATE
    }
    verdicts: dict[ChannelName, Verdict] = {name: verdict(one) for name, one in searches.items()}
    if not any(one is Verdict.CLEAR for one in verdicts.values()) and ChannelName.HEART_RATE in shared:
        searches[ChannelName.HEART_RATE] = search(reference, unit, ChannelName.HEART_RATE)
        verdicts[ChannelName.HEART_RATE] = verdict(searches[ChannelName.HEART_RATE])
    for one in searches.values():
        if same_source(reference, unit, one.stretches, one.reference.start_s, one.unit.start_s):
            reason = "The two recordings hold the same samples: they are copies of one recording, not two witnesses."
            return answered(
                reference, ClockStatus.SAME_SOURCE, _read(reference, one, searches, verdicts), reason, level
            )
    still = one_number_words(reference, unit)
    fit = _judged(reference, searches, verdicts, level, power_moves=not still)
    if fit.status.usable or ChannelName.POWER not in searches:
        return fit
    said = (still, fit.reason, *_coarseness(reference, unit))
    return replace(fit, reason=" ".join(sentence for sentence in said if sentence))


def _coarseness(reference: Recording, unit: Recording) -> Iterator[str]:
    """A sentence for each meter whose power is so coarse that little of the effort is left to match."""
    for whose, recording in (("reference", reference), ("unit", unit)):
        step_w = power_step_w(recording.channels[ChannelName.POWER])
        if step_w >= COARSE_W:
            yield (
                f"The {whose}'s power moves in steps of {step_w:.0f} W, as if rounded, which hides most of what could "
                "be matched; an export with finer steps may do better."
            )


def power_step_w(power_w: FloatArray) -> float:
    """The least difference between two values of a power, W; 0 where it has too few samples for so many values.

    ``power_w``, shape (n,), may hold NaN. Values that seldom repeat say nothing of steps.
    """
    finite = power_w[np.isfinite(power_w)]
    values = np.unique(finite)
    if values.size < 2 or finite.size < SAMPLES_A_VALUE * values.size:
        return 0.0
    return float(np.diff(values).min())


def _judged(
    reference: Recording,
    searches: Mapping[ChannelName, Search],
    verdicts: Mapping[ChannelName, Verdict],
    level: float,
    *,
    power_moves: bool,
) -> ClockFit:
    """The answer for two recordings that are not one. ``power_moves``: neither shows one number as power throughout."""
    cadence, power = searches.get(ChannelName.CADENCE), searches.get(ChannelName.POWER)
    clear = [name for name in searches if verdicts[name] is Verdict.CLEAR]
    if cadence and power and verdicts[ChannelName.POWER] is Verdict.CLEAR:
        if ChannelName.CADENCE in clear and not _agree(cadence, power):
            reason = "Cadence and power each fit at one offset, but not at the same one."
            return unanswered(reference, ClockStatus.AMBIGUOUS, cadence, reason, level, others=(power,))
        if verdicts[ChannelName.CADENCE] is Verdict.NOTHING and not supports(cadence, power, FARTHEST_DELAY_S):
            reason = (
                "The power matches at one offset, but the cadence does not match there or anywhere else: two rides of "
                "one plan look like this."
            )
            return unanswered(reference, ClockStatus.AMBIGUOUS, power, reason, level)
    for name in (ChannelName.CADENCE, ChannelName.POWER):
        if name in clear:
            return answered(reference, None, _read(reference, searches[name], searches, verdicts), "", level)
    return _without_cadence_and_power(reference, searches, verdicts, level, power_moves=power_moves)


def _without_cadence_and_power(
    reference: Recording,
    searches: Mapping[ChannelName, Search],
    verdicts: Mapping[ChannelName, Verdict],
    level: float,
    *,
    power_moves: bool,
) -> ClockFit:
    """The answer where neither cadence nor power fixes an offset; a power that never moves has its own words."""
    effort: list[ChannelName] = [name for name in searches if name is not ChannelName.HEART_RATE]
    for name in searches:
        if verdicts[name] is Verdict.MANY:
            reason = f"Several offsets fit the changes in {WORDS[name]} about equally well."
            return unanswered(reference, ClockStatus.AMBIGUOUS, searches[name], reason, level)
    nothing = [name for name in searches if verdicts[name] is Verdict.NOTHING]
    if nothing and (nothing[0] is not ChannelName.HEART_RATE or not effort):
        named = " and ".join(WORDS[name] for name in nothing)
        reason = f"Both recordings show changes in {named}, but they match at no offset."
        return unanswered(reference, ClockStatus.NO_COMMON_EFFORT, searches[nothing[0]], reason, level)
    if not effort and verdicts[ChannelName.HEART_RATE] is Verdict.CLEAR:
        found = searches[ChannelName.HEART_RATE]
        return answered(reference, None, _read(reference, found, searches, verdicts), "", level)
    asked = effort or list(searches)
    best = searches[asked[0]]
    told = [WORDS[name] for name in asked if power_moves or name is not ChannelName.POWER]
    verbs = ("has", "changes") if len(told) == 1 else ("have", "change")
    reason = f"The {' and '.join(told)} hardly {verbs[1]} beyond the meters' own noise, so many offsets fit."
    if best.shorter_s < CONCLUSIVE_S:
        few = f"{verbs[0]} too few samples, or {verbs[1]} too little in them"
        reason = f"The {' and '.join(told)} {few}, to fix an offset."
    reason = reason if told else ""
    return unanswered(reference, ClockStatus.AMBIGUOUS, best, reason, level)


def _agree(cadence: Search, power: Search) -> bool:
    """Whether both put the clock at the same place, give or take a display's delay, on most of the ride."""
    size = cadence.reference.values.size
    mine, theirs = lags_along(cadence.stretches, size), lags_along(power.stretches, size)
    both = (mine != NO_LAG) & (theirs != NO_LAG)
    if not both.any():
        return False
    near = np.abs(mine[both] - theirs[both]) <= FARTHEST_DELAY_S
    return bool(near.mean() > 0.5)


def _read(
    reference: Recording,
    found: Search,
    searches: Mapping[ChannelName, Search],
    verdicts: Mapping[ChannelName, Verdict],
) -> Reading:
    """Read the channel that was found; a second one that is clear too helps with drift and jumps, not with the lag."""
    middle = float((reference.time_s[0] + reference.time_s[-1]) / 2 - found.reference.start_s)
    reading = read(found, middle)
    power = searches.get(ChannelName.POWER)
    line = reading.line
    if power is not None and power is not found and verdicts[ChannelName.POWER] is Verdict.CLEAR:
        line = pooled(line, read(replace(power, stretches=found.stretches), middle, roughly=True).line)
    return replace(reading, line=with_usual_drift(line))
