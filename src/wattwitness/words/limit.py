"""Whether a stated limit is kept: what the measured bias says, and how sure that is."""

from __future__ import annotations

from wattwitness.model.estimate import Estimate
from wattwitness.words.estimates import because, interval_words, side
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import NBSP, decimals_for, percent_level


def limit_is_broken(bias: Estimate, limit_pct: float) -> bool:
    """Whether the measured bias itself lies beyond ±``limit_pct``; never so where nothing was measured."""
    return bias.value is not None and abs(bias.value) > limit_pct


def stated_limit(limit_pct: float) -> str:
    """The limit as it was given: rounding it would state another one."""
    return f"±{limit_pct:.12g}{NBSP}%"


def limit_words(unit: str, bias: Estimate, with_reference: Estimate, limit_pct: float) -> str:
    """What to say of ``unit`` and ``limit_pct``, compared before anything is rounded.

    ``bias`` carries the ride's own interval, ``with_reference`` also the reference's uncertainty.
    """
    limit = stated_limit(limit_pct)
    if bias.value is None or bias.low is None or bias.high is None:
        return f"Whether {unit} keeps the stated limit of {limit} was not assessed: {because(bias.not_assessed or '')}."
    decimals = decimals_for(bias.value, bias.low, bias.high, apart_from=(limit_pct,))
    measured = side(bias.value, decimals)
    does = "breaks" if limit_is_broken(bias, limit_pct) else "keeps"
    words = sentence_start(f"{unit} {does} the stated limit of {limit} as measured: {measured}.")
    return f"{words} {_sure(bias, with_reference, limit_pct)}"


def _sure(bias: Estimate, with_reference: Estimate, limit_pct: float) -> str:
    """How far the two intervals support what the value says."""
    broken = limit_is_broken(bias, limit_pct)
    ride_agrees = _supports(bias, limit_pct, broken=broken)
    reference_agrees = _supports(with_reference, limit_pct, broken=broken)
    level = percent_level(bias.level)
    if not ride_agrees:
        words = _span(bias, limit_pct)
        return f"That is not certain: the interval, {words}, reaches {'inside' if broken else 'beyond'} the limit."
    if with_reference.value is None:
        return f"The whole {level} interval agrees; the reference’s own uncertainty is not counted."
    if not reference_agrees:
        words = _span(with_reference, limit_pct)
        return (
            f"The ride’s own {level} interval agrees, but with the reference’s uncertainty counted the bias is "
            f"{words}, so a wrong reference could still reverse it."
        )
    return f"The whole {level} interval agrees, also with the reference’s uncertainty counted."


def _supports(estimate: Estimate, limit_pct: float, *, broken: bool) -> bool:
    """Whether the whole interval lies on the side of the limit that the value is on."""
    if estimate.low is None or estimate.high is None:
        return False
    if broken:
        return estimate.low > limit_pct or estimate.high < -limit_pct
    return -limit_pct <= estimate.low and estimate.high <= limit_pct


def _span(estimate: Estimate, limit_pct: float) -> str:
    low, high = estimate.low or 0.0, estimate.high or 0.0
    return interval_words(low, high, decimals_for(low, high, apart_from=(limit_pct,)))
