"""A claim that holds over a range of power is judged at both ends of what was ridden of it; the worst end counts."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from wattwitness.model.claim import Claim, FurtherRides, Verdict, VerdictWord
from wattwitness.model.study import RideFigures

WORST_FIRST = (
    VerdictWord.DOES_NOT_CONFORM,
    VerdictWord.UNDECIDED,
    VerdictWord.NOT_ASSESSED,
    VerdictWord.CONFORMS,
)
FAR = 1.5
"""An end of the range that lies beyond what was ridden by more than this factor was not judged, and is never a pass."""

NEAR = 0.05
"""Powers as near to each other as this share are one place."""


def ends_ridden(claim: Claim | None, rides: Sequence[RideFigures]) -> tuple[float, ...]:
    """The powers at which to judge beside the usual one: the ends of the claim's range, drawn in to what was ridden.

    None where the claim states no range, or no ride says what powers it held.
    """
    if claim is None or (claim.from_w <= 0 and not math.isfinite(claim.to_w)):
        return ()
    ridden = [ride.ridden_w for ride in rides if all(math.isfinite(end) for end in ride.ridden_w)]
    if not ridden:
        return ()
    low = max(claim.from_w, min(one[0] for one in ridden))
    high = min(claim.to_w, max(one[1] for one in ridden))
    return (low, high) if low < high else ()


def over_range(
    claim: Claim, usual: Verdict, at_w: float, ends: Sequence[float], judged_at: Callable[[float], Verdict]
) -> Verdict:
    """The verdict over the range: the worst of that at the usual power and those at ``ends``, with the power named.

    ``judged_at`` gives the verdict at a power. The probability is the least of all: a range is never surer than its
    worst place.
    """
    held_here = claim.limit_at_pct(at_w) is not None
    places = [(end, judged_at(end)) for end in ends if not held_here or abs(end - at_w) > NEAR * at_w]
    places += [(at_w, usual)] if held_here else []
    power_w, worst = min(
        places, key=lambda place: (WORST_FIRST.index(place[1].verdict), _probability(place[1]), place[0])
    )
    told = ", ".join(f"{place:.0f} W" for place, _ in sorted(places, key=lambda place: place[0]))
    most = "" if math.isinf(claim.to_w) else f" to {claim.to_w:.0f} W"
    range_words = f"from {claim.from_w:.0f} W{most}" if most else f"from {claim.from_w:.0f} W on"
    said = f"Judged at {told}, which is what was ridden of its range {range_words}; the worst place is {power_w:.0f} W."
    told_all = replace(worst, says=f"{worst.says} {said}")
    missing = [end for end in (claim.from_w, claim.to_w) if _beyond(end, [place for place, _ in places])]
    if worst.verdict is not VerdictWord.CONFORMS or not missing:
        return told_all
    where = " and ".join(f"{end:.0f} W" for end in missing)
    open_end = f"No ride held powers near {where}, so the whole range is not shown: undecided."
    more = f"Ride near {where}, or ask about the range of power that matters."
    return replace(
        told_all,
        verdict=VerdictWord.UNDECIDED,
        says=f"{told_all.says} {open_end}",
        further_rides=FurtherRides(value=None, chance=None, reason=more),
    )


def _beyond(end: float, judged: Sequence[float]) -> bool:
    """Whether an end of the range, where it has one, is far from every power that was judged."""
    if end <= 0 or not math.isfinite(end):
        return False
    return end * FAR < min(judged) or end > FAR * max(judged)


def _probability(verdict: Verdict) -> float:
    return 1.0 if verdict.probability is None else verdict.probability
