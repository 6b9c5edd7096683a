"""A meter that shows one number in every sample, said plainly: what it shows, the likeliest cause, what to look at."""

from __future__ import annotations

from collections.abc import Callable

from wattwitness.clock.one_number import likeliest_cause, next_step, shows_only
from wattwitness.model.clock import ClockStatus
from wattwitness.model.comparison import PairComparison
from wattwitness.words.names import sentence_start
from wattwitness.words.numbers import typeset


def never_moves(pair: PairComparison, reference: str, unit: str) -> str:
    """The headline of a pair of which one shows one number throughout; empty where neither does."""
    numbers = pair.unit.one_power_w, pair.reference.one_power_w
    if pair.clock.status is ClockStatus.SAME_SOURCE or numbers == (None, None):
        return ""
    if numbers[0] is None:
        shows = typeset(shows_only(reference, numbers[1] or 0.0))
        return f"Nothing is concluded about {unit}: {shows}."
    shows = sentence_start(typeset(shows_only(unit, numbers[0])))
    return f"{shows}, whatever was ridden."


def likeliest_causes(pair: PairComparison) -> str:
    """Why a recording holds one number throughout, most likely; empty where neither does."""
    return _of_each(pair, likeliest_cause)


def what_to_look_at(pair: PairComparison) -> str:
    """What to do about it before anything is concluded; empty where neither shows one number throughout."""
    return _of_each(pair, next_step)


def _of_each(pair: PairComparison, says: Callable[[float], str]) -> str:
    numbers = [side.one_power_w for side in (pair.unit, pair.reference) if side.one_power_w is not None]
    return typeset(says(numbers[0])) if numbers else ""
