"""Sentences about estimates: in the reader's words, and never firmer than the numbers.

Every comparison (is zero inside, is the limit passed) is made on the unrounded values; rounding comes last, with as
many decimals as keep the written numbers on the side they are on.
"""

from __future__ import annotations

import math

from wattwitness.model.estimate import Estimate
from wattwitness.words.numbers import NBSP, decimals_for, number, percent_level, quantity

NOTHING_SHOWN_PCT = -100.0
"""The bias of a meter that showed 0 W throughout: exactly this, with no interval about it."""

REASONS = {
    "no_power": "one of the recordings holds no power",
    "no_common_power": "there is no second in which both show power",
    "not_of_this_kind": "the display follows the effort in another way",
    "clock_ambiguous": "more than one clock offset fits",
    "clock_no_common_effort": "the recordings show no effort in common",
    "clock_same_source": "both files are the same recording",
    "no_cadence": "neither recording holds cadence",
    "reference_is_a_unit": "neither of the two is the reference",
    "ambiguous": "more than one clock offset fits",
    "no_common_effort": "the recordings show no effort in common",
    "same_source": "both files are the same recording",
    "given_by_hand": "the clock was given by hand",
    "too_short": "the common stretch is too short",
    "ride_too_short": "the ride is too short",
    "too_few_seconds": "too few seconds",
    "no_common_seconds": "there is no second in which both show power",
    "too_few_windows": "too few stretches of that length",
    "too_little_power": "too little power to compare",
    "too_many_gaps": "too many gaps",
    "no_line": "no line fits the two",
    "clock_from_power": "the clock was read from power, which cannot tell a late display from a late clock",
    "clock_from_heart_rate": "the clock was read from heart rate, whose sensors lag by seconds",
    "clock_from_speed": "the clock was read from speed",
    "clock_by_hand": "the clock was given by hand",
    "taken_as_prompt": "taken as prompt",
    "nothing_changes": "one of the meters shows one number most of the time",
    "steady_effort": "the effort is too steady to tell",
    "samples_too_far_apart": "the samples are too far apart",
    "collinear": "the ride varies them only together",
    "not_varied": "the ride does not vary it",
    "no_settling": "the bias does not settle",
    "still_changing": "the bias drifts on",
    "confounded": "the power changed along the ride in the same way",
    "no_temperature": "no temperature was recorded",
    "no_left_share": "no left share was recorded",
    "no_steps": "the ride has too few steps up and down",
    "open_interval": "one of the intervals has no end",
    "not_finite": "the result is no finite number",
    "one_side_weighed": "only one side was weighed",
    "zero_not_read": "the unloaded meter was not read",
    "too_few_readings": "there are too few readings",
    "not_loaded_and_unloaded": "no load was read both on the way up and on the way down",
    "one_load_both_ways": "only one load was read both on the way up and on the way down, and one difference tells no "
    "scatter",
    "nothing_beside": "nothing of the ride lies beside it",
    "no_repeats": "nothing was repeated",
    "one_position": "the weights hung in one position only",
    "gain_not_positive": "the reading does not grow with the load for certain",
    "undated": "a worksheet has no date",
    "too_few_days": "a slope with time takes weighings on three days",
    "not_of_the_unit": "it is not the unit’s",
    "no_power_by_reference": "the reference made no power",
}


def because(slug: str) -> str:
    """The reason ``slug`` as a clause; an unknown one is spelt out rather than hidden."""
    return REASONS.get(slug, slug.replace("_", " "))


def missing_words(estimate: Estimate) -> str:
    """Why there is no number: ``not assessed: one of the recordings holds no power``."""
    return f"not assessed: {because(estimate.not_assessed or 'unknown')}"


def side(value: float, decimals: int) -> str:
    """A bias in words: ``4.3 % low``, ``0.7 % high``; exactly zero is ``0 %``."""
    if value == 0:
        return f"0{NBSP}%"
    if math.isinf(value):
        return "without bound on the low side" if value < 0 else "without bound on the high side"
    return f"{_size(value, decimals)}{NBSP}%{NBSP}{'low' if value < 0 else 'high'}"


def _size(value: float, decimals: int) -> str:
    """A size that is not zero, never written as zero."""
    text = number(abs(value), decimals)
    return text if text.strip("0.") else f"under {number(10.0**-decimals, decimals)}"


def holds_zero(estimate: Estimate) -> bool:
    """Whether an assessed estimate's interval holds zero (its ends included)."""
    return estimate.low is not None and estimate.high is not None and estimate.low <= 0 <= estimate.high


def interval_words(low: float, high: float, decimals: int) -> str:
    """A range of bias in words: ``3.8 to 4.8 % low``, ``between 0.4 % low and 0.7 % high``; open ends are said."""
    if math.isinf(low) and math.isinf(high):
        return "anywhere: the data set no bound"
    if math.isinf(low):
        return f"{side(high, decimals)} or lower"
    if math.isinf(high):
        return f"{side(low, decimals)} or higher"
    if low < 0 < high or (low == 0) != (high == 0):
        return f"between {side(low, decimals)} and {side(high, decimals)}"
    if low == high:
        return side(low, decimals)
    near, far = sorted((abs(low), abs(high)))
    return f"{_size(near, decimals)} to {side(math.copysign(far, low), decimals)}"


def reads(estimate: Estimate, *, witness: str = "this ride", shown_elsewhere: bool = False) -> str:
    """What a unit's bias estimate says, as the rest of a sentence that starts with the unit.

    ``witness`` is what it was estimated from. An interval that holds zero is no difference shown, whatever the value;
    unless a firm verdict beside it shows one (``shown_elsewhere``).
    """
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return f"was not compared: {because(estimate.not_assessed or 'unknown')}"
    if estimate.value == estimate.high == NOTHING_SHOWN_PCT:
        return f"shows no power at all ({side(estimate.value, 0)})"
    decimals = decimals_for(estimate.value, estimate.low, estimate.high)
    interval = interval_words(estimate.low, estimate.high, decimals)
    level = percent_level(estimate.level)
    if holds_zero(estimate) and not shown_elsewhere:
        return f"shows no difference that {witness} could tell from zero: {interval} ({level})"
    return f"reads {side(estimate.value, decimals)} ({interval}, {level})"


def against_true_power(estimate: Estimate, reference_pct: float) -> str:
    """The same bias as a statement about the true power, in a sentence; ``estimate`` has the reference's own standard
    uncertainty ``reference_pct`` in its interval, both ends of which are known.
    """
    low, high = estimate.low or 0.0, estimate.high or 0.0
    return (
        f"Counting the reference’s own standard uncertainty of {quantity(reference_pct, '%')}, the bias against true "
        f"power is {interval_words(low, high, decimals_for(low, high))} ({percent_level(estimate.level)})."
    )


def reads_briefly(estimate: Estimate) -> str:
    """``4.3 % low (3.8 to 4.8 % low)`` or ``no difference shown (…)``: for a list, where the level is said once."""
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return missing_words(estimate)
    if estimate.value == estimate.high == NOTHING_SHOWN_PCT:
        return f"no power at all ({side(estimate.value, 0)})"
    decimals = decimals_for(estimate.value, estimate.low, estimate.high)
    interval = interval_words(estimate.low, estimate.high, decimals)
    if holds_zero(estimate):
        return f"no difference shown ({interval})"
    return f"{side(estimate.value, decimals)} ({interval})"


def value_cell(estimate: Estimate, decimals: int = 1, *, signed: bool = True) -> str:
    """An estimate's value for a column whose unit stands in the heading; a dash where not assessed."""
    return number(estimate.value, _decimals(estimate, decimals), signed=signed)


def interval_cell(estimate: Estimate, decimals: int = 1, *, signed: bool = True) -> str:
    """``−4.8 to −3.8`` for a column whose unit stands in the heading; a dash where not assessed."""
    if estimate.low is None or estimate.high is None:
        return number(None)
    places = _decimals(estimate, decimals)
    return f"{number(estimate.low, places, signed=signed)} to {number(estimate.high, places, signed=signed)}"


def with_interval(estimate: Estimate, decimals: int = 1, *, signed: bool = True) -> str:
    """``−4.3 (−4.8 to −3.8) %`` in the estimate's own unit (a ratio has none), or why there is none."""
    if not estimate.assessed:
        return missing_words(estimate)
    text = f"{value_cell(estimate, decimals, signed=signed)} ({interval_cell(estimate, decimals, signed=signed)})"
    return text if estimate.unit == "1" else f"{text}{NBSP}{estimate.unit}"


def _decimals(estimate: Estimate, fewest: int) -> int:
    return decimals_for(estimate.value, estimate.low, estimate.high, fewest=fewest)


def counted(count: int, singular: str, plural: str = "") -> str:
    """``1 ride``, ``2 rides``."""
    return f"{number(count, 0)}{NBSP}{singular if count == 1 else plural or singular + 's'}"


def listed(items: list[str]) -> str:
    """``a``, ``a and b``, ``a, b and c``."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
