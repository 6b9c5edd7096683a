"""The crank length set in a meter is not the true one: such a meter reads set over true."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wattwitness.agreement.stories.evidence import EXCLUDED_BELOW, Evidence, MeterFacts
from wattwitness.agreement.stories.telling import NOTHING_TO_EXPLAIN, percent, told, zero_left_over
from wattwitness.model.anatomy import MeterSide, Story
from wattwitness.model.settling import TimeModel

NAME = "crank_length"
COMMON_MM = tuple(float(length) for length in np.arange(150.0, 180.1, 2.5))
"""Crank lengths in common use: steps of 2.5 mm from 150 to 180 mm (common practice of the trade)."""

SAME_MM = 0.05
MOST_NAMED = 3
USUAL_MM = 172.5
"""Common practice of the trade, with no source."""

DRIFTS = (
    "A wrong crank length is the same from the first minute to the last, and this bias drifts on through the ride. "
    "Whether a wrong length is there beside the drift cannot be told until the bias stands still."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """A length set against a true one, and the gain of unit over reference that it makes."""

    set_mm: float
    true_mm: float
    gain: float


def tell(evidence: Evidence) -> tuple[Story, ...]:
    """One story for each meter, judged against the lengths on record."""
    return (
        _of_meter(evidence, MeterSide.UNIT, evidence.unit),
        _of_meter(evidence, MeterSide.REFERENCE, evidence.reference),
    )


def cases(facts: MeterFacts, side: MeterSide) -> tuple[_Case, ...]:
    """The lengths that may have been set and be true, by what is on record.

    Set and true on record and not the same: that case alone. A true length alone, or both the same: every common length
    set in its place. A length set alone: every common one true. Neither: every pair.
    """
    set_mm, true_mm = facts.crank_set_mm, facts.crank_true_mm
    if set_mm is not None and true_mm is not None and abs(set_mm - true_mm) > SAME_MM:
        pairs = [(set_mm, true_mm)]
    elif true_mm is not None:
        pairs = [(other, true_mm) for other in COMMON_MM]
    elif set_mm is not None:
        pairs = [(set_mm, other) for other in COMMON_MM]
    else:
        pairs = [(one, other) for one in COMMON_MM for other in COMMON_MM]
    return tuple(
        _Case(set_mm=one, true_mm=other, gain=_gain(one, other, side))
        for one, other in pairs
        if abs(one - other) > SAME_MM
    )


def _gain(set_mm: float, true_mm: float, side: MeterSide) -> float:
    """Unit over reference less one: set over true where the unit is wrong, true over set where the reference is."""
    return (set_mm / true_mm if side is MeterSide.UNIT else true_mm / set_mm) - 1


def _of_meter(evidence: Evidence, side: MeterSide, facts: MeterFacts) -> Story:
    if not facts.place.uses_crank_length and facts.place.value != "unknown":
        why = f"The {side.value} takes its power at the {facts.place.value}, where no crank length enters."
        return told(NAME, side, allowed=False, why=why)
    if not evidence.differs:
        return told(NAME, side, allowed=False, why=NOTHING_TO_EXPLAIN)
    if evidence.time_model is TimeModel.LINEAR:
        return told(NAME, side, allowed=False, why=DRIFTS)
    judged = [(case, evidence.gain_of(case.gain)[1]) for case in cases(facts, side)]
    misfit = max(chance for _, chance in judged)
    judged.sort(key=lambda one: _leads(*one))
    best = judged[0][0]
    observed = evidence.gain if evidence.gain_shown else evidence.bias
    if misfit < EXCLUDED_BELOW:
        return told(NAME, side, allowed=False, why=_excluded(evidence, best, facts, side), misfit=misfit)
    likely = [case for case, chance in judged if chance >= EXCLUDED_BELOW][:MOST_NAMED]
    detail = "; ".join(_words(case) for case in likely)
    zero = " as a gain" if evidence.gain_shown else f" at its {evidence.typical_nm:.0f} N·m"
    why = (
        f"A length of {best.set_mm:g} mm set in the {side.value} where {best.true_mm:g} mm is true would make "
        f"{percent(best.gain, 2)}; the ride shows {percent(observed, 2)}{zero}, and the reference's standard "
        f"uncertainty is {100 * evidence.reference_uncertainty:.1f} %.{zero_left_over(evidence)}{_change(evidence)} "
        f"{_record(facts, side)}"
    )
    return told(NAME, side, allowed=True, why=why, misfit=misfit, detail=detail)


def _leads(case: _Case, chance: float) -> tuple[float, float, float]:
    """Which case is named first: among those that fit alike, the smallest mistake about a usual length."""
    return -round(chance, 1), abs(case.set_mm - case.true_mm), abs(case.true_mm - USUAL_MM)


def _change(evidence: Evidence) -> str:
    """That a length makes no change along the ride; begins with a space, empty where there is none."""
    if not evidence.changes:
        return ""
    return " Those are the numbers of the end of the ride; a length does not make the bias change along it."


def _excluded(evidence: Evidence, best: _Case, facts: MeterFacts, side: MeterSide) -> str:
    if not evidence.gain_shown:
        return (
            "A wrong crank length is a gain, the same share at any torque; the ride shows no gain beside its zero "
            "beyond chance."
        )
    return (
        f"The nearest case, {_words(best)}, would make {percent(best.gain, 2)}; the ride shows "
        f"{percent(evidence.gain, 2)}. {_record(facts, side)}"
    )


def _words(case: _Case) -> str:
    return f"set to {case.set_mm:g} mm where {case.true_mm:g} mm is true ({percent(case.gain, 2)})"


def _record(facts: MeterFacts, side: MeterSide) -> str:
    """What the case was judged against."""
    known = [
        f"{value:g} mm {what}"
        for value, what in ((facts.crank_set_mm, "set"), (facts.crank_true_mm, "true"))
        if value is not None
    ]
    if known:
        return f"On record for the {side.value}: {' and '.join(known)}."
    return (
        f"No crank length is on record for the {side.value}, so every pair of common lengths counts, and some pair "
        "explains most gains."
    )
